"""The base coil and its wire, and how much room they need below the layer they lie under."""

from math import log, sqrt

from geometries.constants import MAGNETIC_CONSTANT
from geometries.errors import GeometryError
from geometries.gauges import gauge_diameter
from geometries.laying import Laying
from geometries.packing import section_side_for_turns
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.wire import Wire
from studies.assembly_capacitor import capacitor_of
from studies.heat import wire_warnings
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import BaseCoilTable, WireTable
from studies.specification import CoilSpecification

COVERING_RATIO = 1.12
CAPACITOR_TEMPERATURE = 20.0
DEFAULT_CLEARANCE = 0.5e-3
USUAL_LAYING: Laying = "layers"
_SPARE_ROOM = 1.15


def wire_of(table: WireTable, key: str, temperature: float, reason: str, notes: Notes) -> Wire:
    """The wire of a winding; ``temperature`` [°C] and ``reason`` serve where the file gives none."""
    bare = table.diameter if table.gauge is None else gauge_diameter(table.gauge, f"{key}.gauge")
    if bare is None:
        raise AssertionError("studies.rules lets no wire pass without diameter or gauge")
    covered = bare * COVERING_RATIO
    warm = notes.chosen(
        table.temperature, temperature, f"{key}.temperature", quantity_text(temperature, "temperature"), reason
    )
    wire = Wire(
        conductor=notes.material(table.conductor, "copper", f"{key}.conductor", warm),
        diameter=bare,
        overall_diameter=notes.chosen(
            table.overall_diameter,
            covered,
            f"{key}.overall_diameter",
            quantity_text(covered, "length"),
            f"{COVERING_RATIO} times the bare wire, an ordinary resin covering (common practice, no source)",
        ),
        temperature=warm,
        rated_temperature=table.rated_temperature,
        rated_voltage=table.rated_voltage,
        rated_current_density=table.rated_current_density,
        minimum_bend_radius=table.minimum_bend_radius,
    )
    notes.warnings += wire_warnings(wire, key)
    return wire


def coil_specification(table: BaseCoilTable, wire: Wire, last_layer: str, notes: Notes) -> CoilSpecification:
    """The base coil as the file describes it; ``last_layer`` is empty where there are no layers."""
    under = table.under or last_layer
    if table.under is None and last_layer:
        notes.chosen(None, last_layer, "base_coil.under", last_layer, "the lowest layer")
    text = quantity_text(DEFAULT_CLEARANCE, "length")
    return CoilSpecification(
        turns=table.turns,
        inductance=table.inductance,
        mean_diameter=table.mean_diameter,
        radial_build=table.radial_build,
        winding_length=table.winding_length,
        under=under,
        clearance=notes.chosen(
            table.clearance, DEFAULT_CLEARANCE, "base_coil.clearance", text, "room for a sheet of mica"
        ),
        wire=wire,
        capacitor=capacitor_of(
            table.capacitor, "base_coil.capacitor", CAPACITOR_TEMPERATURE, "away from what is heated", notes
        ),
        laying=notes.chosen(
            table.laying, USUAL_LAYING, "base_coil.laying", USUAL_LAYING, "wound by machine, to and fro"
        ),
    )


def winding_section(coil: CoilSpecification, stack: Stack, turns: float) -> WindingSection:
    """The winding section in its place.

    Parameters
    ----------
    coil : CoilSpecification
        As typed.
    stack : Stack
        With the layer the coil lies under; without layers the coil hangs from the plate's top surface.
    turns : float
        Number of turns; they set the section's size where the file does not.

    Returns
    -------
    WindingSection
        Its top lies one clearance below the layer.
    """
    side = section_side_for_turns(turns, coil.wire.overall_diameter)
    build = side if coil.radial_build is None else coil.radial_build
    length = side if coil.winding_length is None else coil.winding_length
    ceiling = next((layer.bottom for layer in stack.layers if layer.name == coil.under), 0.0)
    top, mean_radius = ceiling - coil.clearance, 0.5 * coil.mean_diameter
    return WindingSection(mean_radius - 0.5 * build, mean_radius + 0.5 * build, top - length, top)


def room_below(coil: CoilSpecification) -> float:
    """Room to be left below the layer the coil lies under: the winding with a clearance on either side [m].

    Where the winding's length follows from an inductance, 15 % is left to spare: conductors nearby lower the
    inductance per turn, so a few turns more will be needed than in air.
    """
    length = coil.winding_length
    if length is None:
        spare = 1.0 if coil.turns is not None else _SPARE_ROOM
        length = spare * section_side_for_turns(probable_turns(coil), coil.wire.overall_diameter)
    return length + 2.0 * coil.clearance


def probable_turns(coil: CoilSpecification) -> float:
    """Turns that give the wanted inductance in air, roughly; the turns themselves where they are given.

    Notes
    -----
    L = μ0 a N² (ln(8a/g) − 2), g = 0.2235 (b + c) the geometric mean distance of a section b × c. Good to a few percent
    for a section small against the coil; for a long winding it only has to stay finite.

    References
    ----------
    F. W. Grover, Inductance Calculations, 1946 (from memory).
    """
    if coil.turns is not None:
        return coil.turns
    if coil.inductance is None:
        raise AssertionError("studies.rules lets no coil pass without turns or inductance")
    radius, turns = 0.5 * coil.mean_diameter, 1.0
    for _ in range(20):
        side = section_side_for_turns(turns, coil.wire.overall_diameter)
        build = side if coil.radial_build is None else coil.radial_build
        length = side if coil.winding_length is None else coil.winding_length
        shape = max(log(8.0 * radius / (0.2235 * (build + length))) - 2.0, 0.3)
        turns = max(1.0, sqrt(coil.inductance / (MAGNETIC_CONSTANT * radius * shape)))
    return turns


def coil_faults(coil: CoilSpecification, stack: Stack, notes: Notes) -> None:
    """Note what does not fit: turns in their section, the coil in its stack."""
    from geometries.checks import design_faults

    try:
        section = winding_section(coil, stack, probable_turns(coil))
    except GeometryError as error:
        notes.refused(error, "base_coil")
        return
    for fault in design_faults(stack, section, coil.wire, coil.turns):
        notes.refused(fault)
