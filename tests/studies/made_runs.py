"""Runs made up for the tests of findings, pictures and report: no field is solved, every number is invented."""

from pathlib import Path
from typing import Any

import numpy as np

from links.reading import reading_window
from studies.linking import Profile
from studies.one_state import MapValues
from studies.specification import Candidate, MapGrid
from studies.stored import Arrays, Run, StoredDesign
from studies.study import Study, read_study
from studies.verdict import Check

LIBRARY = Path(__file__).parents[2] / "studies" / "library"

NUMBERS: dict[str, Any] = {
    "base_turns": 64,
    "base_inductance_H": 3.9e-4,
    "base_resistance_ohm": 7.0,
    "base_winding_resistance_ohm": 6.0,
    "base_direct_current_resistance_ohm": 5.0,
    "base_skin_resistance_ohm": 0.01,
    "base_proximity_resistance_ohm": 0.99,
    "base_reflected_resistance_ohm": 1.0,
    "base_q": 47.0,
    "base_wire_length_m": 8.8,
    "base_conductor_mass_kg": 0.004,
    "base_self_resonance_estimate_Hz": 2.0e6,
    "base_radial_build_m": 3e-3,
    "base_winding_length_m": 3e-3,
    "tuning_capacitance_F": 3.6e-9,
    "tag_turns": 300.0,
    "tag_inductance_H": 2.5e-3,
    "tag_resistance_ohm": 31.0,
    "tag_q": 68.0,
    "tag_tuning_capacitance_F": 5.6e-10,
    "tag_inductance_lowest_H": 2.5e-3,
    "tag_resistance_lowest_ohm": 31.0,
    "tag_spread": 0.0,
    "base_inductance_rel_error": 1e-4,
    "base_resistance_rel_error": 1e-4,
    "tag_inductance_rel_error": 4e-4,
    "mutual_inductance_rel_error": 6e-4,
    "coupling_coefficient_rel_error": 9e-4,
    "mesh_triangles": 1700,
    "base_current_A": 0.3,
    "drive_limited": False,
    "coil_voltage_V": 99.0,
    "input_power_W": 0.6,
    "volts_per_turn_V": 1.547,
    "most_volts_per_turn_V": 1.7,
    "neighbour_turns": 20,
    "worst_neighbour_voltage_V": 34.0,
    "current_density_rms_A_per_m2": 4e6,
    "bend_radius_m": 20.5e-3,
    "least_bend_radius_m": 1.5e-3,
    "field_at_10_m_rms_A_per_m": 2e-6,
    "flux_density_on_plate_rms_T": 2e-4,
    "critical_coupling": 0.06,
    "worst_place": "42 mm up, 8 mm off, 15° tilt",
    "coupling_coefficient": 0.004,
    "chip_voltage_V": 9.0,
    "margin_dB": 5.0,
    "read_height_m": 0.06,
    "read_height_beyond_ceiling": False,
    "required_line": "8 mm off the axis, leaning 15° the worst way",
    "required_read_height_m": 0.055,
}


def bench() -> Study:
    """The demo study: 36 candidates over three keys."""
    return read_study(LIBRARY / "culture-bench.toml")


def first_look() -> Study:
    """A study of one design, its tag a stock part, its turns open."""
    return read_study(LIBRARY / "first-look.toml")


def done(study: Study, index: int, checks: tuple[Check, ...] = (), **numbers: Any) -> StoredDesign:
    """A computed candidate."""
    name = study.design_name(index)
    row = {"design": name, **dict(study.swept(index)), **NUMBERS, **numbers, "status": "done", "message": ""}
    return StoredDesign(index, name, "done", "", row, checks, (), ("Hot.", "A calculation."))


def failed(study: Study, index: int, message: str) -> StoredDesign:
    """A candidate that could not be computed."""
    name = study.design_name(index)
    row = {"design": name, **dict(study.swept(index)), "status": "failed", "message": message}
    return StoredDesign(index, name, "failed", message, row)


def margin_check(got: float, required: float = 3.0) -> Check:
    """A required margin [dB]."""
    passed = got >= required
    shortfall = 0.0 if passed else 1.0 - 10.0 ** ((got - required) / 20.0)
    return Check("margin", "at_least", required, got, passed, shortfall, "42 mm up, 8 mm off, 15° tilt")


def voltage_check(got: float, limit: float = 125.0) -> Check:
    """A limited coil voltage [V]."""
    passed = got <= limit
    return Check("coil_voltage", "at_most", limit, got, passed, 0.0 if passed else 1.0 - limit / got)


def run_of(study: Study, *designs: StoredDesign, folder: Path = Path("nowhere")) -> Run:
    """A run that holds these candidates."""
    return Run(folder, study, designs, {"status": "complete", "versions": {"trivet": "0"}, "seconds": {"c0001": 1.5}})


def margin_at(height: Any, offset: Any) -> Any:
    """An invented margin [dB]: 20 dB on the plate, half a decibel less each millimetre up, a fifth each one aside."""
    return 20.0 - 500.0 * height - 200.0 * offset


def arrays_for(candidate: Candidate, lift: float = 0.0) -> Arrays:
    """Map and lines of `margin_at`, raised by ``lift`` [dB]."""
    return Arrays(map_for(candidate.grid, lift), profiles_for(candidate, lift))


def map_for(grid: MapGrid, lift: float = 0.0) -> MapValues:
    """The map of `margin_at`; k falls with height and offset."""
    heights, offsets = np.array(grid.heights)[:, None, None], np.array(grid.offsets)[None, :, None]
    tilts = np.array(grid.tilts)[None, None, :]
    margin = margin_at(heights, offsets) + lift + 0.0 * tilts
    k = 0.03 * np.exp(-(heights + offsets) / 0.02) * np.cos(0.9 * tilts)
    other = np.zeros(k.shape)
    return MapValues(other + 0j, other + 0j, other, k, other, margin, margin)


def profiles_for(candidate: Candidate, lift: float = 0.0, band: float = 0.5) -> tuple[Profile, ...]:
    """Lines of `margin_at` on the axis and 8 mm aside, with a band of ± ``band`` [dB]."""
    heights = np.geomspace(candidate.grid.heights[0], 0.1, 101)
    lines = []
    for label, offset in (("on the axis, upright", 0.0), ("8 mm off the axis, upright", 8e-3)):
        margin = margin_at(heights, offset) + lift
        window = reading_window(heights, margin)
        lines.append(Profile(label, offset, 0.0, heights, margin, margin - band, margin + band, window))
    return tuple(lines)
