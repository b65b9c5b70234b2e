"""The tag and its chip."""

from dataclasses import dataclass
from typing import TypeVar

from geometries.materials import Material
from geometries.part import TagPart
from geometries.section import WindingSection
from geometries.tag import DrumCore, RodCore, Tag
from studies.assembly_coil import wire_of
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import ChipTable, TagTable
from studies.specification import ChipSpecification, TagSpecification

TAG_TEMPERATURE = 20.0
MODULATED_SHARE = 0.2

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Extent:
    """How far a tag reaches from its centre: radius and half height [m]."""

    radius: float
    half_height: float

    def joined(self, other: "Extent") -> "Extent":
        """The extent that holds both."""
        return Extent(max(self.radius, other.radius), max(self.half_height, other.half_height))


def tag_specification(table: TagTable, frequency: float, notes: Notes) -> TagSpecification:
    """The tag as the file describes it; ``frequency`` [Hz] is the study's."""
    at = None
    if table.sensitivity is not None:
        text, reason = quantity_text(frequency, "frequency"), "the study's frequency"
        at = notes.chosen(table.sensitivity_frequency, frequency, "tag.sensitivity_frequency", text, reason)
    construction = None if table.part is not None else _construction(table, notes)
    if construction is not None:
        _check_construction(construction, notes)
    return TagSpecification(construction, _part(table, notes), _chip(table.chip, notes), table.sensitivity, at)


def tag_extent(tag: TagSpecification) -> Extent:
    """How far the tag reaches from its centre."""
    if tag.construction is not None:
        return Extent(tag.construction.outer_radius, tag.construction.half_height)
    if tag.part is None:
        raise AssertionError("studies.rules lets no tag pass without part or construction")
    return Extent(0.5 * tag.part.diameter, 0.5 * tag.part.height)


def _part(table: TagTable, notes: Notes) -> TagPart | None:
    if table.part is None:
        return None
    return TagPart(
        table.part.inductance,
        table.part.dc_resistance,
        table.part.diameter,
        table.part.height,
        notes.material(table.part.material, "ferrite", "tag.part.material", TAG_TEMPERATURE),
    )


def _construction(table: TagTable, notes: Notes) -> Tag:
    inner, outer = _given(table.winding_inner_diameter), _given(table.winding_outer_diameter)
    half_length = 0.5 * _given(table.winding_length)
    wire = None
    if table.wire is not None:
        wire = wire_of(table.wire, "tag.wire", TAG_TEMPERATURE, "room temperature", notes)
    return Tag(
        section=WindingSection(0.5 * inner, 0.5 * outer, -half_length, half_length),
        turns=_given(table.turns),
        core=_core(table, notes),
        wire=wire,
        series_resistance=table.series_resistance,
    )


def _core(table: TagTable, notes: Notes) -> DrumCore | RodCore | None:
    if table.core == "none":
        return None
    material = _core_material(table, notes)
    if table.core == "rod":
        return RodCore(material, _given(table.rod_diameter), _given(table.rod_length))
    return DrumCore(
        material,
        _given(table.centre_post_diameter),
        _given(table.centre_post_height),
        _given(table.flange_diameter),
        _given(table.flange_thickness),
    )


def _core_material(table: TagTable, notes: Notes) -> Material:
    return notes.material(table.material, "ferrite", "tag.material", TAG_TEMPERATURE)


def _check_construction(tag: Tag, notes: Notes) -> None:
    from geometries.checks import tag_faults

    for error in tag_faults(tag):
        notes.refused(error)


def _chip(table: ChipTable, notes: Notes) -> ChipSpecification:
    modulated = MODULATED_SHARE * table.load_resistance
    if table.clamp_voltage is not None and table.clamp_voltage <= table.minimum_voltage:
        given = f"a clamp at {table.clamp_voltage:g} V under a minimum of {table.minimum_voltage:g} V"
        notes.impossible("tag.chip.clamp_voltage", given, "more than the minimum voltage")
    return ChipSpecification(
        table.load_resistance,
        table.minimum_voltage,
        table.clamp_voltage,
        notes.chosen(
            table.modulated_load_resistance,
            modulated,
            "tag.chip.modulated_load_resistance",
            quantity_text(modulated, "resistance"),
            "a fifth of the load, when the chip shunts the tag coil to answer (common practice, no source)",
        ),
    )


def _given(value: _T | None) -> _T:
    if value is None:
        raise AssertionError("studies.rules lets no tag pass without the keys of its construction")
    return value
