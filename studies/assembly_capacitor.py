"""The tuning capacitors of base coil and tag, at their temperatures."""

from geometries.dielectrics import find_dielectric
from geometries.errors import GeometryError
from studies.heat import dielectric_warnings
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import CapacitorTable, PreferredSeries
from studies.specification import Assumption, Capacitor, CapacitorChoice, CapacitorSpecification

PART_TOLERANCE = 0.02


def capacitor_of(
    table: CapacitorTable | None, key: str, temperature: float, reason: str, notes: Notes
) -> Capacitor | None:
    """A tuning capacitor; ``temperature`` [°C] and ``reason`` serve where the file gives none.

    None where the file neither gives a capacitance nor says how to choose one: the circuit is then exactly tuned.
    """
    if table is None:
        return None
    dielectric = None if table.dielectric is None else find_dielectric(table.dielectric)
    if table.capacitance is None and table.parts is None and table.choose is None:
        notes.warnings.append(
            f"{key}.capacitance: none is given, so exact resonance is assumed, whatever the temperature; "
            "its dielectric's drift plays no part"
        )
        if dielectric is not None and table.temperature is not None:
            notes.warnings += dielectric_warnings(dielectric, table.temperature, f"{key}.temperature")
        return None
    warm = 20.0
    if dielectric is None:
        steady = "the capacitance given holds at any temperature"
        notes.assumptions.append(Assumption(f"{key}.dielectric", "none", steady))
    else:
        text = quantity_text(temperature, "temperature")
        warm = notes.chosen(table.temperature, temperature, f"{key}.temperature", text, reason)
        notes.warnings += dielectric_warnings(dielectric, warm, f"{key}.temperature")
    factors = (1.0, 1.0, 1.0) if dielectric is None else dielectric.factors(warm)
    if min(factors) <= 0.0:
        given = f"its law of capacitance gives nothing positive at {warm:g} °C for all that it allows"
        notes.refused(GeometryError(key, given), f"{key}.temperature")
        return None
    name = "" if dielectric is None else dielectric.name
    return _chosen(table, key, (name, warm, factors), notes) if table.choose else _given(table, (name, warm, factors))


Drift = tuple[str, float, tuple[float, float, float]]
"""Dielectric, its temperature [°C], and the factors that it has there: typical, least, greatest."""


def _chosen(table: CapacitorTable, key: str, drift: Drift, notes: Notes) -> CapacitorChoice:
    assert table.choose is not None, "only called where parts are to be chosen"
    name, warm, factors = drift
    series: PreferredSeries = notes.chosen(table.series, "E24", f"{key}.series", "E24", "what suppliers stock")
    reason = "close film and C0G parts (common practice, no source)"
    tolerance = notes.chosen(table.tolerance, PART_TOLERANCE, f"{key}.tolerance", f"{PART_TOLERANCE:g}", reason)
    return CapacitorChoice(
        table.choose, series, tolerance, factors, table.stray or 0.0, name, warm, table.rated_voltage,
        table.loss_factor or 0.0,
    )  # fmt: skip


def _given(table: CapacitorTable, drift: Drift) -> CapacitorSpecification:
    name, warm, factors = drift
    parts = tuple(table.parts or ()) or (table.capacitance or 0.0,)
    stray, spread, nominal = table.stray or 0.0, table.tolerance or 0.0, sum(parts)
    typical, least, greatest = (
        nominal * factor * change + stray
        for factor, change in zip(factors, (1.0, 1.0 - spread, 1.0 + spread), strict=True)
    )
    return CapacitorSpecification(
        typical, least, greatest, name, warm, parts, table.rated_voltage, table.loss_factor or 0.0, spread
    )
