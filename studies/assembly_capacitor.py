"""The tuning capacitors of base coil and tag, at their temperatures."""

from geometries.dielectrics import capacitance_range, find_dielectric
from geometries.errors import GeometryError
from studies.heat import dielectric_warnings
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import CapacitorTable
from studies.specification import Assumption, CapacitorSpecification


def capacitor_of(
    table: CapacitorTable | None, key: str, temperature: float, reason: str, notes: Notes
) -> CapacitorSpecification | None:
    """A tuning capacitor; ``temperature`` [°C] and ``reason`` serve where the file gives none.

    None where the file gives no capacitance: the circuit is then taken to be exactly tuned.
    """
    if table is None:
        return None
    dielectric = None if table.dielectric is None else find_dielectric(table.dielectric)
    text = quantity_text(temperature, "temperature")
    if table.capacitance is None:
        notes.warnings.append(
            f"{key}.capacitance: none is given, so exact resonance is assumed, whatever the temperature; "
            "its dielectric's drift plays no part"
        )
        if dielectric is not None and table.temperature is not None:
            notes.warnings += dielectric_warnings(dielectric, table.temperature, f"{key}.temperature")
        return None
    if dielectric is None:
        steady = "the capacitance given holds at any temperature"
        notes.assumptions.append(Assumption(f"{key}.dielectric", "none", steady))
        return CapacitorSpecification(table.capacitance, table.capacitance, table.capacitance)
    warm = notes.chosen(table.temperature, temperature, f"{key}.temperature", text, reason)
    notes.warnings += dielectric_warnings(dielectric, warm, f"{key}.temperature")
    try:
        return CapacitorSpecification(*capacitance_range(table.capacitance, dielectric, warm), dielectric.name, warm)
    except GeometryError as error:
        notes.refused(error, f"{key}.temperature")
        return None
