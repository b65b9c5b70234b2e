"""The vocabulary of a study file: every key, what it may hold, and in SI once read.

A key without a default here that has one in the end gets it in ``studies.assembly``, where it is written down as an
assumption. None means that the file does not give the key.
"""

from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, GetCoreSchemaHandler
from pydantic_core import CoreSchema

from geometries.dielectrics import UnknownDielectric, dielectric_names, find_dielectric
from geometries.errors import GeometryError
from geometries.gauges import gauge_diameter
from geometries.laying import LAYINGS, Laying
from geometries.magnet import Carrier, MagnetShape
from geometries.materials import UnknownMaterial, find_material
from geometries.pucks import PuckShape
from geometries.stack import LayerKind
from geometries.vessels import SHAPES as VESSEL_SHAPES
from geometries.vessels import UnknownSize, VesselShape, joint_names, socket_bore, standard_names
from studies.quantities import QuantityError
from studies.schema_values import (
    Measured,
    Name,
    Number,
    TemperatureCurve,
    Text,
    TextOrTable,
    Word,
    few,
    plain,
    rising,
    some,
    spread,
    three_lengths,
    two_lengths,
    unit_vector,
)

Shape = Literal["disc", "pan", "heat block", "bath"]
SHAPES: tuple[Shape, ...] = ("disc", "pan", "heat block", "bath")
Opening = Literal["top", "bottom", "both", "none"]
OPENINGS: tuple[Opening, ...] = ("top", "bottom", "both", "none")
LARGEST_TURNS = 100_000
LEAST_PERMEABILITY = 0.5
"""Relative to vacuum, at any temperature; what is less, no part here is made of."""


def _check_material(name: str) -> None:
    try:
        find_material(name)
    except UnknownMaterial as error:
        hint = " or ".join(f'"{match}"' for match in error.matches)
        raise QuantityError(f'no material is called "{name[:60]}"', MATERIAL_ALLOWED, hint) from None


def _check_dielectric(name: str) -> None:
    try:
        find_dielectric(name)
    except UnknownDielectric as error:
        hint = " or ".join(f'"{match}"' for match in error.matches)
        raise QuantityError(f'no dielectric is called "{name[:60]}"', DIELECTRIC_ALLOWED, hint) from None


def _check_gauge(text: str) -> None:
    try:
        gauge_diameter(text)
    except GeometryError as error:
        raise QuantityError(error.message, "") from None


def _check_size(text: str) -> None:
    number, _, unit = text.strip().partition(" ")
    if unit.strip() != "ml" or not number.isdecimal():
        raise QuantityError(f'"{text[:60]}" is no nominal size', SIZE_ALLOWED)


def _check_stands(text: str) -> None:
    if text != ON_THE_PLATE and not (text.startswith(IN_A_SOLID) and len(text) > len(IN_A_SOLID)):
        raise QuantityError(f'"{text[:60]}" is no place to stand', STANDS_ALLOWED)


ON_THE_PLATE, IN_A_SOLID = "on the plate", "in "
SIZE_ALLOWED = 'a nominal size in whole millilitres, such as "250 ml"'
STANDS_ALLOWED = f'"{ON_THE_PLATE}", or "{IN_A_SOLID}" and the name of a solid with a well'
MATERIAL_ALLOWED = (
    'a name from the table of materials, or its constants as { conductivity = "1e6 S/m", relative_permeability = 1 }'
)
DIELECTRIC_ALLOWED = f"one of {', '.join(dielectric_names())}"

Size = Annotated[float, Measured("length", 1e-7, 10.0)]
Spacing = Annotated[float, Measured("length", 0.0, 10.0)]
Coordinate = Annotated[float, Measured("length", -10.0, 10.0)]
Height = Annotated[float, Measured("length", 1e-7, 10.0, "above the plate, to the centre of the tag coil")]
Tilt = Annotated[float, Measured("angle", -3.14159265358979324, 3.14159265358979324)]
TEMPERATURE = Measured("temperature", -200.0, 2000.0)
Temperature = Annotated[float, TEMPERATURE]
WorkingFrequency = Annotated[float, Measured("frequency", 1e3, 1e7, "fields are magnetoquasistatic, circuits lumped")]
Inductance = Annotated[float, Measured("inductance", 1e-9, 100.0)]
Resistance = Annotated[float, Measured("resistance", 1e-6, 1e9)]
ZeroResistance = Annotated[float, Measured("resistance", 0.0, 1e9)]
Voltage = Annotated[float, Measured("voltage", 1e-6, 1e5)]
Current = Annotated[float, Measured("current", 1e-6, 1e4)]
CurrentDensity = Annotated[float, Measured("current density", 1.0, 1e10)]
Power = Annotated[float, Measured("power", 1e-6, 1e6)]
Capacitance = Annotated[float, Measured("capacitance", 1e-12, 1e-3)]
PreferredSeries = Literal["E3", "E6", "E12", "E24", "E48", "E96", "E192"]
SERIES: tuple[PreferredSeries, ...] = ("E3", "E6", "E12", "E24", "E48", "E96", "E192")
Turns = Annotated[int, Number("turns", 1, LARGEST_TURNS, whole=True)]
MaterialName = Text(MATERIAL_ALLOWED, _check_material)


@dataclass(frozen=True, slots=True)
class Neck:
    """The narrowest bore of a vessel's neck, as a length or as the size of a conical ground joint; [m] once read."""

    @property
    def allowed(self) -> str:
        return f"a bore as a length, or a conical joint: one of {', '.join(joint_names())}"

    def read(self, given: Any) -> float:
        if not isinstance(given, str) or "/" not in given:
            return BORE.read(given)
        try:
            return socket_bore(given.strip())
        except UnknownSize as error:
            near = get_close_matches(given.strip(), error.known, 1, 0.5)
            hint = f'"{near[0]}"' if near else ""
            raise QuantityError(f'no joint is called "{given[:60]}"', self.allowed, hint) from None

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return plain(self.read)


BORE = Measured("length", 1e-7, 10.0)


class Table(BaseModel):
    """What all tables have in common: no key that is not listed, nothing converted silently, no nan, no inf."""

    # defer_build: a command that only wants `--help` need not wait for validators.
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False, defer_build=True)


class MaterialTable(Table):
    """Constants of a material; neither conductivity nor resistivity is an insulator.

    They are those at the temperature it works at, but at 20 °C where ``temperature_coefficient`` or
    ``permeability_curve`` (factors on the relative permeability) say how they move from there.
    """

    conductivity: Annotated[float, Measured("conductivity", 0.0, 1e9)] | None = None
    resistivity: Annotated[float, Measured("resistivity", 1e-9, 1e20)] | None = None
    relative_permeability: Annotated[float, Number("relative to vacuum", LEAST_PERMEABILITY, 1e6)] | None = None
    relative_permeability_loss: Annotated[float, Number("relative to vacuum", 0, 1e6)] | None = None
    loss_factor: Annotated[float, Number("loss part over real part", 0, 10)] | None = None
    temperature_coefficient: (
        Annotated[float, Measured("temperature coefficient", -0.1, 0.1, "of resistivity")] | None
    ) = None
    curie_temperature: Temperature | None = None
    saturation_flux_density: Annotated[float, Measured("flux density", 1e-3, 5.0)] | None = None
    permeability_curve: (
        Annotated[tuple[tuple[float, float], ...], TemperatureCurve(TEMPERATURE, Number("on the permeability", 0, 100))]
        | None
    ) = None


MaterialGiven = Annotated[str | MaterialTable, TextOrTable(MaterialName)]


class StudyTable(Table):
    """``[study]``."""

    name: Annotated[str, Name(blanks=False)]
    frequency: WorkingFrequency
    accuracy: Annotated[float, Number("relative, on M and L", 1e-6, 0.05)] | None = None
    formulation: Annotated[Literal["total field", "reaction field"], Word(("total field", "reaction field"))] | None = (
        None
    )


class TerminationTable(Table):
    """What joins the ends of a shorted spiral at the working frequency: the mains with its leads, or a plain short."""

    resistance: ZeroResistance = 0.0
    inductance: Annotated[float, Measured("inductance", 0.0, 1.0)] = 0.0


class LayerTable(Table):
    """One of ``[[layers]]``, from the top surface downward."""

    name: Annotated[str, Name()]
    kind: Annotated[
        LayerKind,
        Word(("solid", "gap", "foil", "meander", "open spiral", "shorted spiral", "rings")),
    ] = "solid"
    material: MaterialGiven | None = None
    thickness: Size | None = None
    outer_diameter: Size | None = None
    inner_diameter: Spacing | None = None
    temperature: Temperature | None = None
    ribbon_width: Size | None = None
    pitch: Size | None = None
    rated_power: Power | None = None
    rated_voltage: Voltage | None = None
    termination: TerminationTable | None = None


class SolidTable(Table):
    """One of ``[[solids]]``: any other body round about the axis, by its corners or by the name of its shape."""

    name: Annotated[str, Name()]
    material: MaterialGiven
    outline: (
        Annotated[list[Annotated[list[Coordinate], AfterValidator(two_lengths)]], BeforeValidator(few(200, "corners"))]
        | None
    ) = None
    shape: Annotated[Shape, Word(SHAPES)] | None = None
    diameter: Size | None = None
    outer_diameter: Size | None = None
    inner_diameter: Spacing | None = None
    thickness: Size | None = None
    height: Size | None = None
    wall_thickness: Size | None = None
    top: Coordinate | None = None
    bottom: Coordinate | None = None
    round_bottom: bool | None = None
    well_diameter: Size | None = None
    well_depth: Size | None = None
    hole_diameter: Spacing | None = None
    temperature: Temperature | None = None


class WireTable(Table):
    """A round wire."""

    conductor: MaterialGiven | None = None
    diameter: Size | None = None
    gauge: Annotated[str, Text('a wire gauge such as "AWG 30"', _check_gauge)] | None = None
    overall_diameter: Size | None = None
    temperature: Temperature | None = None
    rated_temperature: Temperature | None = None
    rated_voltage: Voltage | None = None
    rated_current_density: CurrentDensity | None = None
    minimum_bend_radius: Size | None = None


class CapacitorTable(Table):
    """A tuning capacitor: its nominal value, ``parts`` in parallel, or what to ``choose`` from preferred values.

    Exactly resonant where it is none of these. ``tolerance`` is the ± of the parts as bought, ``stray`` lies in
    parallel and does not drift, ``rated_voltage`` is a peak value.
    """

    capacitance: Capacitance | None = None
    parts: Annotated[list[Capacitance], BeforeValidator(few(20, "parts")), AfterValidator(some)] | None = None
    choose: Annotated[Literal["one part", "pair", "bank"], Word(("one part", "pair", "bank"))] | None = None
    series: Annotated[PreferredSeries, Word(SERIES)] | None = None
    tolerance: Annotated[float, Number("of each part as bought, relative", 0, 0.5)] | None = None
    stray: Annotated[float, Measured("capacitance", 0.0, 1e-6)] | None = None
    loss_factor: Annotated[float, Number("series resistance over reactance", 0, 1)] | None = None
    rated_voltage: Voltage | None = None
    dielectric: Annotated[str, Text(DIELECTRIC_ALLOWED, _check_dielectric)] | None = None
    temperature: Temperature | None = None


class BaseCoilTable(Table):
    """``[base_coil]``."""

    turns: Turns | None = None
    inductance: Inductance | None = None
    mean_diameter: Size
    radial_build: Size | None = None
    winding_length: Size | None = None
    under: Annotated[str, Name()] | None = None
    clearance: Spacing | None = None
    laying: Annotated[Laying, Word(LAYINGS)] | None = None
    wire: WireTable
    capacitor: CapacitorTable | None = None


class ChipTable(Table):
    """The tag's chip; voltages are peak values across the tag's tuned circuit."""

    load_resistance: Resistance
    minimum_voltage: Voltage
    clamp_voltage: Voltage | None = None
    maximum_voltage: Voltage | None = None
    modulated_load_resistance: Resistance | None = None
    rectifier_drop: Annotated[float, Measured("voltage", 0.0, 10.0)] | None = None
    current: Annotated[float, Measured("current", 0.0, 1.0, "drawn from the store")] | None = None


class PartTable(Table):
    """A stock part by its data sheet."""

    inductance: Inductance
    dc_resistance: Resistance
    diameter: Size
    height: Size
    material: MaterialGiven | None = None


class ShieldTable(Table):
    """``tag.shield``: a can round the tag's own axis; ``gap`` lies between its closed end and the tag."""

    material: MaterialGiven
    inner_diameter: Size
    wall_thickness: Size
    height: Size
    open: Annotated[Opening, Word(OPENINGS)] | None = None
    gap: Spacing | None = None


class CorrectionTable(Table):
    """What stands beside the tag and moves with it does to it: factors on L and k, resistance added to R."""

    inductance: Annotated[float, Number("factor on the tag's inductance", 0.1, 10)] | None = None
    coupling: Annotated[float, Number("factor on the coupling coefficient", 0.01, 10)] | None = None
    added_resistance: ZeroResistance | None = None


class TagTable(Table):
    """``[tag]``: ``part``, or the keys of a construction."""

    part: PartTable | None = None
    turns: Turns | None = None
    core: Annotated[Literal["drum", "rod", "none"], Word(("drum", "rod", "none"))] | None = None
    material: MaterialGiven | None = None
    centre_post_diameter: Size | None = None
    centre_post_height: Size | None = None
    flange_diameter: Size | None = None
    flange_thickness: Size | None = None
    rod_diameter: Size | None = None
    rod_length: Size | None = None
    winding_inner_diameter: Size | None = None
    winding_outer_diameter: Size | None = None
    winding_length: Size | None = None
    series_resistance: Resistance | None = None
    wire: WireTable | None = None
    shield: ShieldTable | None = None
    chip: ChipTable
    sensitivity: Annotated[float, Measured("sensitivity", 1e-9, 1e3)] | None = None
    sensitivity_frequency: WorkingFrequency | None = None
    temperature: Temperature | None = None
    capacitor: CapacitorTable | None = None
    correction: CorrectionTable | None = None


class MagnetTable(Table):
    """One of ``[[magnets]]``, fixed to the tag or to the drive below.

    x, y, z are the tag's axes, z along its coil; those of a drive's magnets are the stack's, z from the plate's top
    surface upward. ``remanence`` holds at the temperature it works at; without it a magnet has no steady field.
    """

    name: Annotated[str, Name()]
    fixed_to: Annotated[Carrier, Word(("tag", "drive"))] = "tag"
    material: MaterialGiven | None = None
    shape: Annotated[MagnetShape, Word(("block", "cylinder"))] = "block"
    size: Annotated[list[Size], AfterValidator(three_lengths)] | None = None
    diameter: Size | None = None
    height: Size | None = None
    place: Annotated[list[Coordinate], AfterValidator(three_lengths)]
    remanence: Annotated[float, Measured("flux density", 0.0, 2.5)] | None = None
    direction: (
        Annotated[list[Annotated[float, Number("of a vector", -1e6, 1e6)]], AfterValidator(unit_vector)] | None
    ) = None
    temperature: Temperature | None = None


class DriveTable(Table):
    """``[drive]``; ``supply`` is the bridge's direct voltage, ``source_voltage`` a sine's peak.

    ``duty`` is the share of the time that the drive is on.
    """

    bridge: Annotated[Literal["full", "half", "sine"], Word(("full", "half", "sine"))] | None = None
    supply: Voltage | None = None
    source_voltage: Voltage | None = None
    resistance: ZeroResistance
    current_limit: Current | None = None
    when_off: Annotated[Literal["shorted", "open"], Word(("shorted", "open"))] | None = None
    duty: Annotated[float, Number("share of the time that the drive is on", 1e-6, 1)] | None = None


class StorageTable(Table):
    """What a half-duplex tag charges while the base coil is on."""

    capacitance: Annotated[float, Measured("capacitance", 1e-12, 1.0)]
    charge_time: Annotated[float, Measured("time", 1e-6, 100.0)]
    measurement_energy: Annotated[float, Measured("energy", 0.0, 1.0)] | None = None


class ReceiverTable(Table):
    """What the reader needs to hear the tag; the voltage is a peak value across the base coil."""

    minimum_voltage: Voltage | None = None
    dynamic_range: Annotated[float, Measured("level", 0.0, 200.0)] | None = None


class LinkTable(Table):
    """``[link]``."""

    mode: Annotated[Literal["half-duplex", "full-duplex"], Word(("half-duplex", "full-duplex"))] | None = None
    tuning: Annotated[Literal["series", "parallel"], Word(("series", "parallel"))] | None = None
    storage: StorageTable | None = None
    receiver: ReceiverTable = ReceiverTable()
    pause: Annotated[float, Measured("time", 1e-6, 10.0, "from the drive's end to the first bit")] | None = None
    reply_tones: Annotated[list[WorkingFrequency], BeforeValidator(few(8, "tones")), AfterValidator(some)] | None = None
    telegram_bits: Annotated[int, Number("bits of one reply", 1, 1_000_000, whole=True)] | None = None
    keying_frequency: Annotated[float, Measured("frequency", 1.0, 1e7, "of the load's switching")] | None = None
    tuned_in: Annotated[str, Name()] | None = None


class LeadTable(Table):
    """``[lead]``: what lies between base coil and reader, both conductors together; values are per metre of its length.

    ``hot_length`` of it is at ``temperature``, the rest at 20 °C. ``resistance`` is that at 20 °C and at the working
    frequency; else it follows from the ``conductor`` and its diameter, skin effect included.
    """

    length: Annotated[float, Measured("length", 1e-6, 100.0)]
    hot_length: Annotated[float, Measured("length", 0.0, 100.0)] | None = None
    temperature: Temperature | None = None
    conductor: MaterialGiven | None = None
    conductor_diameter: Size | None = None
    resistance: Annotated[float, Measured("resistance per length", 0.0, 1e4)] | None = None
    inductance: Annotated[float, Measured("inductance per length", 0.0, 1e-3)] | None = None
    capacitance: Annotated[float, Measured("capacitance per length", 0.0, 1e-6)] | None = None


class MapTable(Table):
    """``[map]``: places of the coupling map."""

    height: Annotated[list[Height], BeforeValidator(spread), AfterValidator(rising)] | None = None
    offset: Annotated[list[Spacing], BeforeValidator(spread), AfterValidator(rising)] | None = None
    tilt: Annotated[list[Tilt], BeforeValidator(spread), AfterValidator(rising)] | None = None


class PlaceTable(Table):
    """A place where the tag must be readable."""

    height: Height
    offset: Spacing = 0.0
    tilt: Tilt = 0.0


class AtLeastTable(Table):
    """``require.at_least``."""

    margin: Annotated[float, Measured("level", -200.0, 200.0)] | None = None
    read_height: Height | None = None


class AtMostTable(Table):
    """``require.at_most``; voltages and currents are peak values, the wire's temperature is its working one."""

    coil_voltage: Voltage | None = None
    capacitor_voltage: Voltage | None = None
    current: Current | None = None
    supply_current: Current | None = None
    neighbour_voltage: Voltage | None = None
    volts_per_turn: Voltage | None = None
    current_density: CurrentDensity | None = None
    input_power: Power | None = None
    field_at_10_m: Annotated[float, Measured("field", 1e-12, 1e6)] | None = None
    wire_temperature: Temperature | None = None


class RequireTable(Table):
    """``[require]``: what a good design must do."""

    places: Annotated[list[PlaceTable], BeforeValidator(few(1000, "places"))] = []
    at_least: AtLeastTable = AtLeastTable()
    at_most: AtMostTable = AtMostTable()


class VesselTable(Table):
    """One of ``[[vessels]]``, by ``standard`` and ``size`` or by its own dimensions; drawn only where no puck is given.

    ``neck`` is its narrowest bore or the size of a conical joint, ``bottom_thickness`` that at the lowest point,
    ``flat`` the diameter of what a flat-bottomed flask stands on.
    ``stands`` "on the plate", or "in" a solid with a well, by its name.
    """

    name: Annotated[str, Name()]
    standard: Annotated[str, Word(standard_names())] | None = None
    size: Annotated[str, Text(SIZE_ALLOWED, _check_size)] | None = None
    shape: Annotated[VesselShape, Word(VESSEL_SHAPES)] | None = None
    outer_diameter: Size | None = None
    height: Size | None = None
    wall_thickness: Size | None = None
    bottom_thickness: Size | None = None
    flat: Size | None = None
    neck: Annotated[float, Neck()] | None = None
    stands: Annotated[str, Text(STANDS_ALLOWED, _check_stands)] | None = None


class TagPlaceTable(Table):
    """``puck.tag_place``: of the tag's centre above the puck's underside and along it, and how its axis leans there."""

    height: Size | None = None
    along: Spacing | None = None
    tilt: Tilt | None = None


class PuckTable(Table):
    """``[puck]``: the moving part that carries the tag, with its cover.

    A bar lies, ``length`` by ``diameter``; a disc stands, ``diameter`` by ``height``. It turns about the drive's axis,
    ``spindle_offset`` from the base coil's, and while it is held its middle strays no further than ``wander`` from it.
    """

    shape: Annotated[PuckShape, Word(("bar", "disc"))] | None = None
    length: Size | None = None
    diameter: Size
    height: Size | None = None
    tag_place: TagPlaceTable = TagPlaceTable()
    spindle_offset: Spacing | None = None
    wander: Spacing | None = None


class NeighbourTable(Table):
    """``[neighbour]``: a second station like this one; ``spacing`` from axis to axis, ``level`` how much higher."""

    spacing: Size
    level: Coordinate = 0.0


class StudyFile(Table):
    """A whole study file, but for ``[sweep]``, whose keys are those of the rest."""

    study: StudyTable
    layers: list[LayerTable] = []
    solids: list[SolidTable] = []
    base_coil: BaseCoilTable
    tag: TagTable
    drive: DriveTable
    lead: LeadTable | None = None
    link: LinkTable = LinkTable()
    map: MapTable = MapTable()
    require: RequireTable = RequireTable()
    vessels: list[VesselTable] = []
    magnets: list[MagnetTable] = []
    neighbour: NeighbourTable | None = None
    puck: PuckTable | None = None
