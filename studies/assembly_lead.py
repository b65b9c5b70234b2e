"""The lead between base coil and reader."""

from math import pi

from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import LeadTable
from studies.specification import LeadSpecification

ROOM_TEMPERATURE = 20.0
DIAMETER = 0.5e-3
INDUCTANCE, CAPACITANCE = 0.6e-6, 60e-12
USUAL = "an ordinary pair of wires (common practice, no source)"


def lead_of(table: LeadTable, notes: Notes) -> LeadSpecification:
    """The lead as the file describes it: its hot piece lies at the coil."""
    hot = table.hot_length or 0.0
    if hot > table.length:
        notes.impossible("lead.hot_length", f"{quantity_text(hot, 'length')} of a shorter lead", "at most lead.length")
    text = quantity_text(ROOM_TEMPERATURE, "temperature")
    warm = ROOM_TEMPERATURE
    if hot:
        warm = notes.chosen(table.temperature, ROOM_TEMPERATURE, "lead.temperature", text, "room temperature")
    conductor = notes.cold_and_heated(table.conductor, "copper", "lead.conductor", warm, "lead.temperature")[0]
    cold_resistivity, hot_resistivity = (conductor.resistivity(at) or 0.0 for at in (ROOM_TEMPERATURE, warm))
    if not cold_resistivity:
        notes.impossible("lead.conductor", f"{conductor.name} does not conduct", "a conductor")
        cold_resistivity = hot_resistivity = 1e-8
    inductance, capacitance = (
        quantity_text(INDUCTANCE, "inductance per length"),
        quantity_text(CAPACITANCE, "capacitance per length"),
    )
    diameter = DIAMETER
    if table.resistance is None:
        text = quantity_text(DIAMETER, "length")
        diameter = notes.chosen(table.conductor_diameter, DIAMETER, "lead.conductor_diameter", text, USUAL)

    def piece(length: float, resistivity: float) -> tuple[float, float, float]:
        if table.resistance is not None:
            return length, table.resistance * resistivity / cold_resistivity, 0.0
        return length, 2.0 * resistivity / (0.25 * pi * diameter**2), 1.0 / resistivity

    pieces = (piece(hot, hot_resistivity), piece(table.length - hot, cold_resistivity))
    return LeadSpecification(
        tuple(one for one in pieces if one[0] > 0.0),
        diameter,
        notes.chosen(table.inductance, INDUCTANCE, "lead.inductance", inductance, USUAL),
        notes.chosen(table.capacitance, CAPACITANCE, "lead.capacitance", capacitance, USUAL),
    )
