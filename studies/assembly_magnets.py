"""Magnets and other blocks fixed to the tag, in the tag's axes."""

from geometries.magnet import Magnet, Triple
from geometries.magnet_checks import magnet_faults
from studies.assembly_tag import drawn_tag
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import MagnetTable
from studies.specification import TagSpecification

LEFT_OUT = (
    "magnets: the map and everything that follows from it leave them out; trivet solve --whole-space computes what "
    "they do to L, Q and k and offers a tag.correction that takes it in"
)


def magnets_of(tables: list[MagnetTable], tag: TagSpecification, notes: Notes) -> tuple[Magnet, ...]:
    """The magnets, those refused that overlap the tag; a warning where nothing takes them in."""
    magnets = tuple(_magnet(table, tag.temperature, notes) for table in tables)
    for fault in magnet_faults(magnets, drawn_tag(tag)):
        notes.refused(fault)
    if magnets and tag.correction is None:
        notes.warnings.append(LEFT_OUT)
    return magnets


def _magnet(table: MagnetTable, temperature: float, notes: Notes) -> Magnet:
    key = f"magnets.{table.name}"
    text = quantity_text(temperature, "temperature")
    at = notes.chosen(table.temperature, temperature, f"{key}.temperature", text, "the tag's, which it is fixed to")
    material = notes.material(table.material, "", f"{key}.material", at)
    return Magnet(table.name, material, _triple(table.size), _triple(table.place), at)


def _triple(given: list[float]) -> Triple:
    x, y, z = given
    return x, y, z
