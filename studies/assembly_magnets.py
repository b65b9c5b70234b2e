"""Magnets and other blocks: those fixed to the tag, in its axes, and those of a drive below, in the stack's."""

from geometries.magnet import ALONG_Z, Magnet, Triple
from geometries.magnet_checks import drive_magnet_faults, magnet_faults
from geometries.materials import Material, find_material
from geometries.stack import Stack
from studies.assembly_tag import drawn_tag
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import MagnetTable
from studies.specification import TagSpecification

LEFT_OUT = (
    "magnets: the map and everything that follows from it leave their eddy currents out; trivet solve --whole-space "
    "computes what they do to L, Q and k and offers a tag.correction that takes it in"
)
ROOM_TEMPERATURE = 20.0


def magnets_of(tables: list[MagnetTable], tag: TagSpecification, notes: Notes) -> tuple[Magnet, ...]:
    """The magnets fixed to the tag, those refused that overlap it; a warning where nothing takes their currents in."""
    magnets = tuple(_magnet(table, tag.temperature, notes) for table in tables if table.fixed_to == "tag")
    for fault in magnet_faults(magnets, drawn_tag(tag)):
        notes.refused(fault)
    if any(magnet.acts for magnet in magnets) and tag.correction is None:
        notes.warnings.append(LEFT_OUT)
    return magnets


def drive_magnets_of(tables: list[MagnetTable], stack: Stack | None, notes: Notes) -> tuple[Magnet, ...]:
    """The magnets of a drive below, those refused that it could not turn in the stack."""
    magnets = tuple(_magnet(table, ROOM_TEMPERATURE, notes) for table in tables if table.fixed_to == "drive")
    for fault in drive_magnet_faults(magnets, Stack() if stack is None else stack):
        notes.refused(fault)
    return magnets


def _magnet(table: MagnetTable, temperature: float, notes: Notes) -> Magnet:
    key = f"magnets.{table.name}"
    material, at = _material(table, temperature, notes)
    remanence = table.remanence or 0.0
    direction = ALONG_Z
    if remanence:
        reason = "along z, the usual way for a tag on its coil's axis"
        given = None if table.direction is None else _triple(table.direction)
        direction = notes.chosen(given, ALONG_Z, f"{key}.direction", "[0, 0, 1]", reason)
    if table.shape == "cylinder" and direction[:2] != (0.0, 0.0):
        notes.impossible(
            f"{key}.direction", "a cylinder that is not magnetised along its axis", "[0, 0, 1] or [0, 0, -1]"
        )
    return Magnet(
        table.name, material, _size(table), _triple(table.place), at, remanence, direction, table.shape, table.fixed_to
    )


def _material(table: MagnetTable, temperature: float, notes: Notes) -> tuple[Material, float]:
    """The material and its temperature [°C]; air where only the steady field counts."""
    key = f"magnets.{table.name}"
    if table.material is None:
        if table.fixed_to == "tag":
            reason = "its steady field alone is asked for; eddy currents in it are left out"
            notes.chosen(None, "air", f"{key}.material", "air", reason)
        return find_material("air"), temperature
    text = quantity_text(temperature, "temperature")
    at = notes.chosen(table.temperature, temperature, f"{key}.temperature", text, "the tag's, which it is fixed to")
    return notes.material(table.material, "", f"{key}.material", at), at


def _size(table: MagnetTable) -> Triple:
    if table.size is not None and table.shape == "block":
        return _triple(table.size)
    if table.diameter is None or table.height is None:
        raise AssertionError("studies.rules lets no magnet pass without its sizes")
    return table.diameter, table.diameter, table.height


def _triple(given: list[float]) -> Triple:
    x, y, z = given
    return x, y, z
