"""The tables of the report: numbers of a candidate in the units of people, each with what it means."""

from dataclasses import dataclass

from links.cautions import TOUCH_VOLTAGE
from links.limits import (
    FIELD_LIMIT_SOURCE,
    REFERENCE_LEVEL_SOURCE,
    decibel_microampere_per_metre,
    field_limit_at_10_m,
    reference_level_occupational,
    reference_level_public,
)
from studies.engineering import engineering, place_text
from studies.findings import margin_error, number
from studies.specification import Assumption, Candidate, Capacitor, CapacitorChoice
from studies.stored import StoredDesign

NONE = "none"


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a table: what, how much, and a remark."""

    name: str
    value: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Level:
    """A computed figure beside a published or given level."""

    name: str
    value: str
    level: str
    compared: str
    source: str


def base_lines(candidate: Candidate, stored: StoredDesign) -> tuple[Line, ...]:
    """The base coil as installed."""
    wire = candidate.coil.wire
    return (
        Line("turns", _plain(stored, "base_turns", "")),
        Line("mean diameter", engineering(candidate.coil.mean_diameter, "m", 4)),
        Line("winding section", _section(stored), "radial build × winding length"),
        Line("wire", _wire(wire.diameter, wire.overall_diameter), f"{wire.conductor.name} at {wire.temperature:g} °C"),
        Line("inductance L", _value(stored, "base_inductance_H", "H"), "as installed, no tag near"),
        Line("resistance R", _value(stored, "base_resistance_ohm", "Ω"), "the sum of the four parts that follow"),
        Line(
            "… direct current", _value(stored, "base_direct_current_resistance_ohm", "Ω"), "at the wire's temperature"
        ),
        Line("… skin effect", _value(stored, "base_skin_resistance_ohm", "Ω")),
        Line("… proximity effect", _value(stored, "base_proximity_resistance_ohm", "Ω")),
        Line(
            "… reflected", _value(stored, "base_reflected_resistance_ohm", "Ω"), "by heater, pan and what else is near"
        ),
        Line("quality factor Q", _plain(stored, "base_q", ""), "of the coil alone; the drive's resistance lowers it"),
        Line(
            "tuning capacitance",
            _value(stored, "tuning_capacitance_F", "F"),
            f"{candidate.link.tuning}, {_capacitor(candidate.coil.capacitor)}",
        ),
        Line("off tune", _detuning(stored, "base_detuning"), "no tag near; above 0 resonant above the frequency"),
        Line("wire length", _value(stored, "base_wire_length_m", "m")),
        Line("conductor mass", _mass(stored)),
        Line("self-resonance", _value(stored, "base_self_resonance_estimate_Hz", "Hz", 2), "an estimate"),
        Line("base current", _value(stored, "base_current_A", "A"), _limited(stored)),
        Line("current density", _density(stored), f"rms, over the bare wire, at a duty of {candidate.drive.duty:g}"),
        Line("input power", _value(stored, "input_power_W", "W"), "from the drive, its own resistance included"),
        Line("supply current", _value(stored, "supply_current_A", "A"), "mean, harmonics included, while it drives"),
        Line(
            "third harmonic",
            _value(stored, "third_harmonic_source_current_A", "A"),
            "of the source current, from the bridge's square wave",
        ),
        *capacitor_lines(stored, ""),
        *reach_lines(candidate, stored),
    )


def tag_lines(candidate: Candidate, stored: StoredDesign) -> tuple[Line, ...]:
    """The tag in free air, and the link at the worst place."""
    return (
        Line("turns", _plain(stored, "tag_turns", "")),
        Line("inductance L", _value(stored, "tag_inductance_H", "H"), "in free air"),
        Line("resistance R", _value(stored, "tag_resistance_ohm", "Ω"), "winding, and what core and shield lose"),
        Line("quality factor Q", _plain(stored, "tag_q", ""), "of the coil alone; the chip lowers it"),
        Line(
            "tuning capacitance",
            _value(stored, "tag_tuning_capacitance_F", "F"),
            _capacitor(candidate.tag.capacitor),
        ),
        Line("off tune", _detuning(stored, "tag_detuning"), "in free air; above 0 resonant above the frequency"),
        Line("off tune at the lowest height", _detuning(stored, "tag_lowest_detuning"), "moved by what is near"),
        Line("L at the lowest height", _value(stored, "tag_inductance_lowest_H", "H"), "moved by what is near"),
        Line("R at the lowest height", _value(stored, "tag_resistance_lowest_ohm", "Ω")),
        Line("worst place", str(stored.row.get("worst_place") or NONE)),
        Line("coupling coefficient k", _percent(stored, "coupling_coefficient"), "there, leaning the worst way"),
        Line("critical coupling", _percent(stored, "critical_coupling"), "above it the chip voltage falls again"),
        Line("chip voltage", _value(stored, "chip_voltage_V", "V"), "there, peak, not clamped"),
        *capacitor_lines(stored, "tag_"),
        *reply_lines(candidate, stored),
        Line("margin", _decibel(stored, "margin_dB"), f"there; {stored.row.get('margin_limited_by')} limits it"),
        Line("margin tuned exactly", _decibel(stored, "margin_tuned_dB")),
        Line("margin as fitted", _decibel(stored, "margin_as_fitted_dB"), "parts at the worst of their tolerance"),
        Line("read height on the axis", _height(stored, "read_height_m"), _beyond(stored)),
        Line("read height, worst", _height(stored, "required_read_height_m"), str(stored.row.get("required_line", ""))),
    )  # fmt: skip


def reach_lines(candidate: Candidate, stored: StoredDesign) -> tuple[Line, ...]:
    """How far the reference levels reach outside the bench, and what a second station hears, where one is asked for."""
    found = [
        Line(
            f"level for {who} reached",
            _value(stored, f"{name}_distance_m", "m", 3),
            f"from the winding at most, and {_value(stored, f'{name}_height_m', 'm', 3)} above the plate",
        )
        for who, name in (("the public", "reference_level"), ("people at work", "occupational_level"))
        if number(stored, f"{name}_distance_m") is not None
    ]
    if reference_level_public(candidate.frequency) is None:
        found.append(Line("reference levels reached", NONE, "no level is known here at this frequency"))
    margin = number(stored, "field_at_10_m_margin_dB")
    if margin is not None:
        found.append(Line("margin of the field at 10 m", f"{margin:.1f} dB", "to ERC/REC 70-03; the fundamental alone"))
    elif field_limit_at_10_m(candidate.frequency) is None:
        found.append(Line("margin of the field at 10 m", NONE, "no limit is known here at this frequency"))
    if number(stored, "neighbour_voltage_V") is None:
        return tuple(found)
    coupled = f"k {_percent(stored, 'neighbour_coupling_coefficient')}"
    quality = f"{coupled}, k Q {_plain(stored, 'neighbour_coupling_times_q', '')}"
    return (
        *found,
        Line("a second station hears", _value(stored, "neighbour_voltage_V", "V"), quality),
        Line("isolation from it", _decibel(stored, "neighbour_isolation_dB"), "of the coils' voltages, as in air"),
    )


def capacitor_lines(stored: StoredDesign, side: str) -> tuple[Line, ...]:
    """What the tuning capacitor of the base or, with ``side="tag_"``, of the tag consists of and has to stand."""
    parts = str(stored.row.get(f"{side}tuning_parts") or NONE)
    lost = f"{side}capacitor_loss_W"
    loss = _value(stored, lost, "W") if number(stored, lost) else NONE
    return (
        Line("tuning parts as bought", parts, "the study's, else the nearest pair of E24"),
        Line("capacitor voltage", _value(stored, f"{side}capacitor_voltage_V", "V"), "peak"),
        Line("capacitor current", _value(stored, f"{side}capacitor_current_rms_A", "A"), "rms"),
        Line("capacitor loss", loss, "by its loss factor, where one is given"),
    )


def reply_lines(candidate: Candidate, stored: StoredDesign) -> tuple[Line, ...]:
    """The exchange in time, or the bandwidth of a full-duplex reply, at the worst of the places."""
    chip, link = candidate.tag.chip, candidate.link
    power = f"above the chip's {chip.minimum_voltage:g} V"
    lines: list[Line] = []
    if "store_voltage_V" in stored.row:
        after = f"after {engineering(link.charge_time or 0.0, 's')}, without the limiter"
        lines = [
            Line("store voltage", _value(stored, "store_voltage_V", "V"), after),
            Line("store voltage needed", _value(stored, "needed_store_voltage_V", "V"), "for the whole telegram"),
            Line("energy to spare", _value(stored, "spare_store_energy_J", "J"), "beyond the telegram, limited"),
        ]
        power = "of the store's voltage above the one needed"
    lines.append(Line("power margin", _decibel(stored, "power_margin_dB"), power))
    if link.mode == "half-duplex":
        heard = f"above the receiver's {engineering(link.receiver_minimum_voltage, 'V')}"
        quiet = f"the base is quiet after {_value(stored, 'dead_time_s', 's')}, the reply begins after "
        return (
            *lines,
            Line("reply margin", _decibel(stored, "reply_margin_dB"), f"of the weaker tone {heard}"),
            Line("dead-time margin", _decibel(stored, "dead_time_margin_dB"), quiet + engineering(link.pause, "s")),
        )
    depth = f"{_decibel(stored, 'modulation_depth_dB')} under the carrier"
    widths = f"{_value(stored, 'base_bandwidth_Hz', 'Hz')} and {_value(stored, 'tag_bandwidth_Hz', 'Hz')}"
    return (
        *lines,
        Line("reply margin", _decibel(stored, "reply_margin_dB"), depth),
        Line("bandwidth of base and tag", widths, f"{_value(stored, 'needed_bandwidth_Hz', 'Hz')} are needed"),
    )


def levels(candidate: Candidate, stored: StoredDesign) -> tuple[Level, ...]:
    """Coil voltage and fields beside what is published."""
    found = [_level("coil voltage, peak", number(stored, "coil_voltage_V"), "V", TOUCH_VOLTAGE, TOUCH_SOURCE)]
    density = number(stored, "flux_density_on_plate_rms_T")
    for who, level in (
        ("the public", reference_level_public(candidate.frequency)),
        ("people at work", reference_level_occupational(candidate.frequency)),
    ):
        name = f"greatest flux density on the plate, rms; for {who}"
        found.append(_level(name, density, "T", level, REFERENCE_LEVEL_SOURCE))
    field = number(stored, "field_at_10_m_rms_A_per_m")
    limit = field_limit_at_10_m(candidate.frequency)
    found.append(_level("field at 10 m, rms", field, "A/m", limit, FIELD_LIMIT_SOURCE, in_decibels=True))
    return tuple(one for one in found if one is not None)


TOUCH_SOURCE = "IEC 60335-1 clause 8.1.4, drawn up for low frequencies (the number from memory)"


def _level(
    name: str, value: float | None, unit: str, level: float | None, source: str, *, in_decibels: bool = False
) -> Level | None:
    if value is None:
        return None
    if level is None:
        return Level(name, _shown(value, unit, in_decibels), NONE, "no level known here at this frequency", source)
    ratio = value / level
    compared = "above" if ratio > 1.0 else "below"
    times = f"{ratio:.2g} times the level" if ratio >= 0.01 else "less than a hundredth of it"
    return Level(
        name, _shown(value, unit, in_decibels), _shown(level, unit, in_decibels), f"{compared}: {times}", source
    )


def _shown(value: float, unit: str, in_decibels: bool) -> str:
    text = engineering(value, unit, 3)
    return f"{text} ({decibel_microampere_per_metre(value):.1f} dBµA/m)" if in_decibels and value > 0.0 else text


def followed(candidate: Candidate, stored: StoredDesign) -> tuple[str, ...]:
    """What followed from what was typed."""
    coil, tag = candidate.coil, candidate.tag
    found = []
    if coil.inductance is not None:
        found.append(
            f"Base coil: {_plain(stored, 'base_turns', '')} whole turns follow from the wanted "
            f"{engineering(coil.inductance, 'H')} as installed; they give {_value(stored, 'base_inductance_H', 'H')}."
        )
    if coil.radial_build is None:
        found.append(f"Base coil: a winding section of {_section(stored)} follows from its turns and its wire.")
    found += [f"{one.key} = {one.value}: {one.reason}." for one in candidate.assumptions if is_consequence(one)]
    if tag.construction is None:
        spread = number(stored, "tag_spread") or 0.0
        found.append(
            f"Tag: {_plain(stored, 'tag_turns', '')} turns follow from the part's inductance and a likely construction "
            f"that fills its size; other constructions move M and k by up to ±{100.0 * spread:.2g} %."
        )
    if tag.sensitivity is not None:
        found.append("Tag: its coupling is scaled to the sensitivity given, whatever it is made of.")
    return tuple(found)


def is_consequence(assumption: Assumption) -> bool:
    """Whether a value was not assumed but follows from others that were typed."""
    return assumption.reason.startswith("follows from")


def error_lines(stored: StoredDesign) -> tuple[Line, ...]:
    """Estimated errors, each with what it is of."""
    spread = number(stored, "tag_spread") or 0.0
    found = [
        Line("base coil, L", _error(stored, "base_inductance_rel_error"),
             "difference of two element orders on one mesh, and what boundary and shape add"),
        Line("base coil, R", _error(stored, "base_resistance_rel_error"),
             "of the reflected part, over the whole; the wire's own resistance is as good as its data"),
        Line("tag coil, L", _error(stored, "tag_inductance_rel_error"), "as for the base coil, in free air"),
        Line("mutual inductance M", _error(stored, "mutual_inductance_rel_error"),
             "field, tag and its image in metal near it; the largest over the required places"),
        Line("coupling coefficient k", _error(stored, "coupling_coefficient_rel_error"),
             "that of M and half of each L"),
    ]  # fmt: skip
    if spread:
        words = "contained in those of M and k: the data sheet leaves the part's construction open"
        found.append(Line("stock part", f"±{100.0 * spread:.2g} %", words))
    found.append(
        Line("margin", f"±{margin_error(stored):.2g} dB", "what the errors of M come to; no parts' tolerances")
    )
    return tuple(found)


def requirement_lines(stored: StoredDesign) -> tuple[tuple[bool, str], ...]:
    """Every requirement held against a candidate: whether it is met, and the sentence."""
    return tuple((check.passed, check.sentence) for check in stored.checks)


def place_words(candidate: Candidate) -> tuple[str, ...]:
    """The required places."""
    return tuple(place_text(place) for place in candidate.require.places)


# -- words for one number -------------------------------------------------------------------------------------------


def _value(stored: StoredDesign, name: str, unit: str, digits: int = 4) -> str:
    value = number(stored, name)
    return NONE if value is None else engineering(value, unit, digits)


def _plain(stored: StoredDesign, name: str, unit: str) -> str:
    value = number(stored, name)
    return NONE if value is None else f"{value:.4g} {unit}".strip()


def _percent(stored: StoredDesign, name: str) -> str:
    value = number(stored, name)
    return NONE if value is None else f"{100.0 * value:.3g} %"


def _detuning(stored: StoredDesign, name: str) -> str:
    value = number(stored, name)
    return NONE if value is None else f"{100.0 * value:+.2g} %" if value else "0 %"


def _capacitor(given: Capacitor | None) -> str:
    if given is None:
        return "exactly resonant, none is given"
    if isinstance(given, CapacitorChoice):
        return f"{given.choose} from {given.series}"
    return f"{given.dielectric} at {given.temperature:g} °C" if given.dielectric else "as given"


def _error(stored: StoredDesign, name: str) -> str:
    value = number(stored, name)
    return NONE if value is None else f"±{100.0 * value:.2g} %"


def _decibel(stored: StoredDesign, name: str) -> str:
    value = number(stored, name)
    return NONE if value is None else f"{value:.2f} dB"


def _height(stored: StoredDesign, name: str) -> str:
    value = number(stored, name)
    return "read nowhere" if value is None else f"{value * 1e3:.3g} mm"


def _beyond(stored: StoredDesign) -> str:
    return "or more: the highest place looked at" if stored.row.get("read_height_beyond_ceiling") else ""


def _section(stored: StoredDesign) -> str:
    build, length = number(stored, "base_radial_build_m") or 0.0, number(stored, "base_winding_length_m") or 0.0
    return f"{build * 1e3:.3g} mm × {length * 1e3:.3g} mm"


def _wire(bare: float, covered: float) -> str:
    return f"{bare * 1e3:.3g} mm bare, {covered * 1e3:.3g} mm covered"


def _mass(stored: StoredDesign) -> str:
    value = number(stored, "base_conductor_mass_kg")
    return NONE if value is None else engineering(1e3 * value, "g", 3)


def _density(stored: StoredDesign) -> str:
    value = number(stored, "current_density_rms_A_per_m2")
    return NONE if value is None else f"{value * 1e-6:.3g} A/mm²"


def _limited(stored: StoredDesign) -> str:
    return "peak; held back to the drive's limit" if stored.row.get("drive_limited") else "peak, the greatest met"
