"""Puts a candidate together from a study file's tables: defaults, placing, and whether the parts go together."""

from dataclasses import dataclass, replace
from typing import Any, Literal

from geometries.stack import RIBBON_KINDS, Layer, Stack
from studies.assembly_coil import coil_faults, coil_specification, room_below, wire_of
from studies.assembly_lead import lead_of
from studies.assembly_magnets import drive_magnets_of, magnets_of
from studies.assembly_map import check_map, map_grid, requirement
from studies.assembly_neighbour import neighbour_of
from studies.assembly_stack import layer_of, solid_of
from studies.assembly_tag import Extent, tag_extent, tag_specification
from studies.assembly_vessels import puck_of, vessels_of
from studies.faults import Finding, KeyPath
from studies.heat import layer_warnings
from studies.keypaths import Raw
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.rules import rule_findings
from studies.schema import DriveTable, LinkTable
from studies.schema_faults import Sections, read_sections
from studies.specification import (
    AS_GIVEN,
    Candidate,
    CoilSpecification,
    DriveSpecification,
    Formulation,
    LinkSpecification,
)
from studies.tag_room import check_room, places_of

DEFAULT_ACCURACY = 1e-3
HOT_WIRE = 150.0
PAUSE = 3e-3
SECOND_TONE = 124.2 / 134.2
_ASSUMED_FREQUENCY = 134.2e3  # only to look for more faults where the file's own frequency is faulty

_MEANDER_DOUBT = "may come out about 4 % too high"

Mode = Literal["half-duplex", "full-duplex"]


@dataclass(frozen=True, slots=True)
class Particulars:
    """What a candidate has besides its file.

    Name, swept values, swept keys, the largest tag of the sweep, and how fields are solved for where the file does not
    say.
    """

    design: str = "base"
    swept: tuple[tuple[str, float | int | str], ...] = ()
    swept_paths: frozenset[KeyPath] = frozenset()
    largest_tag: Extent | None = None
    formulation: Formulation = "total field"


def assembled(raw: Raw, particulars: Particulars) -> tuple[Candidate | None, tuple[Finding, ...]]:
    """Put a candidate together.

    Parameters
    ----------
    raw : dict
        The file without its ``sweep``, in SI once read.
    particulars : Particulars
        What the file does not say.

    Returns
    -------
    Candidate or None
        None where anything is wrong.
    tuple of Finding
        Everything that is wrong; ``geometric`` where only the whole cannot be built.
    """
    sections, findings = sound_tables(raw, particulars.swept_paths)
    notes = Notes(findings=[*findings])
    candidate = _candidate(sections, particulars, notes)
    return (None if notes.findings else candidate), _distinct(notes.findings)


def sound_tables(raw: Raw, swept: frozenset[KeyPath]) -> tuple[Sections, tuple[Finding, ...]]:
    """The tables in which nothing is wrong by itself, and all that is wrong in the others.

    Every finding that is not ``geometric`` comes to light here, at a tenth of the cost of a candidate.
    """
    sections, found = read_sections(raw)
    findings = [*found, *rule_findings(raw, swept)]
    return _without_faulty(sections, findings), tuple(findings)


def reach_of_tag(sections: Sections) -> Extent | None:
    """How far the tag of these tables reaches; None where they have none that can be built."""
    if sections.tag is None:
        return None
    notes = Notes()
    tag = tag_specification(sections.tag, sections.study.frequency if sections.study else _ASSUMED_FREQUENCY, notes)
    return None if notes.findings else tag_extent(tag)


def _without_faulty(sections: Sections, findings: list[Finding]) -> Sections:
    """The tables in which nothing is wrong by itself: only these can be put together."""
    faulty = {str(finding.path[0]) for finding in findings if finding.path}
    return replace(sections, **{name: None for name in faulty if name in Sections.__slots__})


def _distinct(findings: list[Finding]) -> tuple[Finding, ...]:
    return tuple(dict.fromkeys(findings))


def _candidate(sections: Sections, particulars: Particulars, notes: Notes) -> Candidate | None:
    """As much of the candidate as its sound tables allow, so that all faults come to light at once."""
    study = sections.study
    frequency = study.frequency if study else _ASSUMED_FREQUENCY
    accuracy = study.accuracy if study else DEFAULT_ACCURACY
    text, reason = f"{DEFAULT_ACCURACY:g}", "well inside parts' tolerances"
    accuracy = notes.chosen(accuracy, DEFAULT_ACCURACY, "study.accuracy", text, reason)
    stack, coil = _stack_and_coil(sections, frequency, notes)
    tag = None if sections.tag is None else tag_specification(sections.tag, frequency, notes)
    extent = None if tag is None else tag_extent(tag)
    drive = None if sections.drive is None else _drive(sections.drive, notes)
    link = None if sections.link is None else _link(sections.link, frequency, notes)
    grid = None
    if sections.map is not None and extent is not None:
        grid = map_grid(sections.map, particulars.largest_tag or extent, notes)
        check_map(grid, extent, notes)
    require = None if sections.require is None else requirement(sections.require, extent, notes)
    if stack is not None and grid is not None and require is not None and extent is not None:
        check_room(stack, places_of(grid, require), extent, frequency, notes)
    lead = None if sections.lead is None else lead_of(sections.lead, notes)
    vessels = (
        None if sections.vessels is None else vessels_of(sections.vessels, stack, sections.puck is not None, notes)
    )
    puck = None if sections.puck is None or extent is None else puck_of(sections.puck, extent, notes)
    magnets, drive_magnets = None, None
    if sections.magnets is not None and tag is not None:
        magnets = magnets_of(sections.magnets, tag, notes)
        drive_magnets = drive_magnets_of(sections.magnets, stack, notes)
    if not (stack and coil and tag and drive and link and grid and require) or vessels is None:
        return None
    if magnets is None or drive_magnets is None:
        return None
    neighbour = None if sections.neighbour is None else neighbour_of(sections.neighbour, coil, stack, notes)
    return Candidate(
        particulars.design, particulars.swept, frequency, accuracy, stack, coil, tag, drive, link, grid, require,
        vessels, tuple(notes.assumptions), tuple(notes.warnings), magnets,
        (study.formulation if study else None) or particulars.formulation, drive_magnets, lead, neighbour,
        tuned_in=(sections.link.tuned_in if sections.link else None) or AS_GIVEN, puck=puck,
    )  # fmt: skip


def _stack_and_coil(
    sections: Sections, frequency: float, notes: Notes
) -> tuple[Stack | None, CoilSpecification | None]:
    """Layers from the top downward; those below the coil's own layer lie lower by the room the coil needs."""
    if sections.layers is None or sections.solids is None:
        return None, None
    layers = [layer_of(table, frequency, notes) for table in sections.layers]
    solids = tuple(solid for table in sections.solids if (solid := solid_of(table, notes)) is not None)
    coil = None
    if sections.base_coil is not None:
        wire = wire_of(sections.base_coil.wire, "base_coil.wire", *_wire_temperature(layers), notes)
        coil = coil_specification(sections.base_coil, wire, layers[-1].name if layers else "", notes)
    stack = Stack(_placed(layers, coil), solids)
    if coil is not None:
        coil_faults(coil, stack, notes)
        _warn_of_close_ribbons(stack, coil, notes)
        notes.warnings += layer_warnings(stack, coil)
    return stack, coil


def _placed(layers: list[Layer], coil: CoilSpecification | None) -> tuple[Layer, ...]:
    placed: list[Layer] = []
    top = 0.0
    for layer in layers:
        placed.append(replace(layer, top=top))
        top = placed[-1].bottom
        if coil is not None and layer.name == coil.under:
            top -= room_below(coil)
    return tuple(placed)


def _wire_temperature(layers: list[Layer]) -> tuple[float, str]:
    """A fair guess of the base coil's temperature [°C], and why."""
    hottest = max((layer.temperature for layer in layers), default=20.0)
    if hottest <= 20.0:
        return 20.0, "nothing near it is heated"
    return min(HOT_WIRE, hottest), "a layer near it is heated; what the wire reaches is for a thermocouple to say"


def _warn_of_close_ribbons(stack: Stack, coil: CoilSpecification, notes: Notes) -> None:
    """The thin-layer model of ribbons is 4 % high for windings nearer than one ribbon width (DESIGN 4.2)."""
    names = [layer.name for layer in stack.layers]
    first = names.index(coil.under) if coil.under in names else len(names)
    for layer in stack.layers[first : first + 2]:  # the coil lies between these two, a clearance from either
        if layer.kind in RIBBON_KINDS and coil.clearance < (layer.ribbon_width or 0.0):
            doubt = "is uncertain by 20 to 30 %, by where the rings fall" if layer.kind == "rings" else _MEANDER_DOUBT
            notes.warnings.append(
                f"base_coil.clearance: the winding is nearer to {layer.name} than one ribbon width; "
                f"its eddy-current loss in the ribbon {doubt}"
            )


def _drive(table: DriveTable, notes: Notes) -> DriveSpecification:
    from links.drive import Bridge, fundamental_voltage  # brings numpy, which nothing else here needs

    bridge: Bridge = notes.chosen(table.bridge, "full", "drive.bridge", "full", "the usual output stage of readers")
    supply = table.source_voltage if table.supply is None else table.supply
    if supply is None:
        raise AssertionError("studies.rules lets no drive pass without supply or source_voltage")
    peak = fundamental_voltage(bridge, supply)
    duty = notes.chosen(table.duty, 1.0, "drive.duty", "1", "always on, which heats the wire the most")
    when_off = table.when_off or "shorted"
    return DriveSpecification(bridge, supply, peak, table.resistance, table.current_limit, when_off, duty)


def _link(table: LinkTable, frequency: float, notes: Notes) -> LinkSpecification:
    reason = "a tag that stores its energy and then answers"
    mode: Mode = notes.chosen(table.mode, "half-duplex", "link.mode", "half-duplex", reason)
    receiver, usual = "link.receiver", "an ordinary receiver (common practice, no source)"
    storage = table.storage if mode == "half-duplex" else None
    return LinkSpecification(
        mode=mode,
        tuning=notes.chosen(table.tuning, "series", "link.tuning", "series", "what a low-impedance bridge drives"),
        storage_capacitance=None if storage is None else storage.capacitance,
        charge_time=None if storage is None else storage.charge_time,
        receiver_minimum_voltage=notes.chosen(
            table.receiver.minimum_voltage, 1e-3, f"{receiver}.minimum_voltage", "1 mV", usual
        ),
        receiver_dynamic_range=notes.chosen(
            table.receiver.dynamic_range, 70.0, f"{receiver}.dynamic_range", "70 dB", usual
        ),
        measurement_energy=0.0 if storage is None else storage.measurement_energy or 0.0,
        keying_frequency=table.keying_frequency,
        **(_exchange(table, frequency, notes) if mode == "half-duplex" else {}),
    )


def _exchange(table: LinkTable, frequency: float, notes: Notes) -> dict[str, Any]:
    """When a half-duplex tag replies, and with what; the open standard's figures where the file does not say."""
    tones = frequency, frequency * SECOND_TONE
    text = " and ".join(quantity_text(tone, "frequency") for tone in tones)
    standard = "as in ISO 11785 (from memory)"
    return {
        "pause": notes.chosen(table.pause, PAUSE, "link.pause", quantity_text(PAUSE, "time"), standard),
        "reply_tones": tuple(
            notes.chosen(
                table.reply_tones, list(tones), "link.reply_tones", text, "in the ratio of ISO 11785 half-duplex"
            )
        ),
        "telegram_bits": notes.chosen(table.telegram_bits, 112, "link.telegram_bits", "112", standard),
    }
