"""Columns of which the greatest or the least counts, over states or over what parts may be."""

from collections.abc import Sequence

from studies.hazards import HOTTEST
from studies.rows import Row

GREATEST = (
    "base_current_A",
    "source_current_A",
    "coil_voltage_V",
    "capacitor_voltage_V",
    "input_power_W",
    "supply_current_A",
    "third_harmonic_source_current_A",
    "capacitor_current_rms_A",
    "capacitor_loss_W",
    "tag_capacitor_voltage_V",
    "tag_capacitor_current_rms_A",
    "tag_capacitor_loss_W",
    "volts_per_turn_V",
    "most_volts_per_turn_V",
    "worst_neighbour_voltage_V",
    "current_density_rms_A_per_m2",
    "wire_temperature_degC",
    "field_at_10_m_rms_A_per_m",
    "flux_density_on_plate_rms_T",
    "greatest_chip_voltage_V",
    "dead_time_s",
    "needed_store_voltage_V",
    "needed_bandwidth_Hz",
    "modulation_depth_dB",
    "neighbour_coupling_times_q",
    "neighbour_voltage_V",
    HOTTEST,
)
"""Columns that hold the greatest that was met."""

LEAST = (
    "reply_voltage_V",
    "store_voltage_V",
    "spare_store_energy_J",
    "base_bandwidth_Hz",
    "tag_bandwidth_Hz",
    "sideband_voltage_V",
    "neighbour_isolation_dB",
    "margin_tuned_dB",
    "margin_as_fitted_dB",
)
"""Columns that hold the least that was met."""


def extremes(rows: Sequence[Row]) -> Row:
    """The first of some rows, with the greatest and the least of all where a column is one of those."""
    row = dict(rows[0])
    for names, extreme in ((GREATEST, max), (LEAST, min)):
        for name in names:
            values = [value for one in rows if isinstance(value := one.get(name), float)]
            if values:
                row[name] = extreme(values)
    if "drive_limited" in row:
        row["drive_limited"] = any(one["drive_limited"] for one in rows)
    return row
