"""The tag and its chip."""

from dataclasses import dataclass, replace
from typing import TypeVar

from geometries.materials import Material, find_material
from geometries.part import TagPart
from geometries.parts import part_constructions
from geometries.section import WindingSection
from geometries.tag import DrumCore, RodCore, Tag
from studies.assembly_capacitor import capacitor_of
from studies.assembly_coil import wire_of
from studies.assembly_shield import shield_of
from studies.heat import tag_warnings
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import ChipTable, CorrectionTable, PartTable, TagTable
from studies.specification import Assumption, ChipSpecification, Correction, TagSpecification

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
    text = quantity_text(TAG_TEMPERATURE, "temperature")
    temperature = notes.chosen(
        table.temperature, TAG_TEMPERATURE, "tag.temperature", text, "room temperature; what it lies in may be warmer"
    )
    cold, core = _core_material(table, temperature, notes)
    construction = None if table.part is not None else _construction(table, core, temperature, notes)
    part = None if table.part is None else _part(table.part, core, temperature, notes)
    half_height = 0.5 * part.height if part else construction.half_height if construction else 0.0
    shield = shield_of(table.shield, half_height, temperature, notes)
    construction = construction and replace(construction, shield=shield)
    part = part and replace(part, shield=shield)
    if construction is not None:
        _check_construction(construction, notes)
    elif shield is not None and part is not None:
        _check_construction(part_constructions(part)[0], notes)
    chip = _chip(table.chip, notes)
    return TagSpecification(
        construction, part, chip, table.sensitivity, at, temperature, None if cold == core else cold,
        capacitor_of(table.capacitor, "tag.capacitor", temperature, "the tag's", notes), _correction(table.correction),
    )  # fmt: skip


def drawn_tag(tag: TagSpecification) -> Tag:
    """The tag's construction; of a stock part the nominal one that fills its size."""
    if tag.construction is not None:
        return tag.construction
    if tag.part is None:
        raise AssertionError("studies.rules lets no tag pass without part or construction")
    return part_constructions(tag.part)[0]


def tag_extent(tag: TagSpecification) -> Extent:
    """How far the tag reaches from its centre."""
    drawn = drawn_tag(tag)
    return Extent(drawn.outer_radius, drawn.half_height)


def _correction(table: CorrectionTable | None) -> Correction | None:
    """Factors that are left out are 1: no assumption, since a table that says nothing changes nothing."""
    if table is None:
        return None
    given = {name: value for name, value in table if value is not None}
    return Correction(**given)


def _core_material(table: TagTable, temperature: float, notes: Notes) -> tuple[Material, Material]:
    """The core's material, cold and at its ``temperature`` [°C]; air for both where there is no core."""
    if table.part is None and table.core == "none":
        air = find_material("air")
        return air, air
    given, key = (table.material, "tag.material") if table.part is None else (table.part.material, "tag.part.material")
    return notes.cold_and_heated(given, "ferrite", key, temperature, "tag.temperature")


def _part(table: PartTable, core: Material, temperature: float, notes: Notes) -> TagPart:
    resistance = _warm_resistance(table.dc_resistance, temperature, "tag.part.dc_resistance", notes)
    return TagPart(table.inductance, resistance, table.diameter, table.height, core)


def _warm_resistance(given: float, temperature: float, key: str, notes: Notes) -> float:
    """A resistance that holds at 20 °C, as a copper winding has it at ``temperature`` [°C] [Ω]."""
    if temperature == TAG_TEMPERATURE:
        return given
    copper = find_material("copper")
    warm = given * copper.conductivity(TAG_TEMPERATURE) / copper.conductivity(temperature)
    place = quantity_text(temperature, "temperature")
    reason = f"follows from {quantity_text(given, 'resistance')}, taken as at 20 degC, and copper's law"
    notes.assumptions.append(Assumption(f"{key} at {place}", quantity_text(warm, "resistance"), reason))
    return warm


def _construction(table: TagTable, core: Material, temperature: float, notes: Notes) -> Tag:
    inner, outer = _given(table.winding_inner_diameter), _given(table.winding_outer_diameter)
    half_length = 0.5 * _given(table.winding_length)
    wire, resistance = None, table.series_resistance
    if table.wire is not None:
        wire = wire_of(table.wire, "tag.wire", temperature, "the tag's", notes)
        notes.warnings += tag_warnings(wire, temperature)
    if resistance is not None:
        resistance = _warm_resistance(resistance, temperature, "tag.series_resistance", notes)
    return Tag(
        section=WindingSection(0.5 * inner, 0.5 * outer, -half_length, half_length),
        turns=_given(table.turns),
        core=_core(table, core),
        wire=wire,
        series_resistance=resistance,
    )


def _core(table: TagTable, material: Material) -> DrumCore | RodCore | None:
    if table.core == "none":
        return None
    if table.core == "rod":
        return RodCore(material, _given(table.rod_diameter), _given(table.rod_length))
    return DrumCore(
        material,
        _given(table.centre_post_diameter),
        _given(table.centre_post_height),
        _given(table.flange_diameter),
        _given(table.flange_thickness),
    )


def _check_construction(tag: Tag, notes: Notes) -> None:
    from geometries.checks import tag_faults

    for error in tag_faults(tag):
        notes.refused(error)


def _chip(table: ChipTable, notes: Notes) -> ChipSpecification:
    modulated = MODULATED_SHARE * table.load_resistance
    if table.clamp_voltage is not None and table.clamp_voltage <= table.minimum_voltage:
        given = f"a clamp at {table.clamp_voltage:g} V under a minimum of {table.minimum_voltage:g} V"
        notes.impossible("tag.chip.clamp_voltage", given, "more than the minimum voltage")
    if table.maximum_voltage is not None and table.maximum_voltage <= table.minimum_voltage:
        given = f"at most {table.maximum_voltage:g} V on a chip that needs {table.minimum_voltage:g} V"
        notes.impossible("tag.chip.maximum_voltage", given, "more than the minimum voltage")
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
        table.maximum_voltage,
        table.rectifier_drop or 0.0,
        table.current or 0.0,
    )


def _given(value: _T | None) -> _T:
    if value is None:
        raise AssertionError("studies.rules lets no tag pass without the keys of its construction")
    return value
