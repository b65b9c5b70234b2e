"""The workshop's sheet of a design: winding sheet and bench card on one page, or as JSON."""

from dataclasses import asdict, dataclass
from typing import Any

from studies.bench_card import METER_FREQUENCIES, BenchCard, bench_card
from studies.engineering import engineering, place_text
from studies.evaluation import evaluated
from studies.one_state import in_every_state, linked_in_state
from studies.report_numbers import NONE, Line
from studies.rows import Row, number
from studies.specification import Candidate
from studies.templating import page_template
from studies.winding_sheet import WindingSheet, finite, winding_sheet
from studies.wire_limits import bend_source

WIRE_TOLERANCE = 0.02
"""By how much a bare wire's diameter may be off, stretching as it is wound included (common practice, no source)."""

PROBE = 12e-12
"""Capacitance of a ten-to-one oscilloscope probe (common practice, no source) [F]."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """All of it: the design, its winding, its readings, cautions and whether it does what is required."""

    study: str
    candidate: Candidate
    winding: WindingSheet
    bench: BenchCard
    verdict: str
    margin: str
    cautions: tuple[str, ...]


def sheet_of(study: str, candidate: Candidate, probe: float = PROBE, wire_tolerance: float = WIRE_TOLERANCE) -> Sheet:
    """Solve a design and gather its sheet.

    Parameters
    ----------
    study : str
        The study's name.
    candidate : Candidate
        The design, with all its states.
    probe : float
        Capacitance of the probe that watches the resonance [F].
    wire_tolerance : float
        By how much the bare wire's diameter may be off, relative [1].

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed.
    """
    found = evaluated(candidate)
    states = in_every_state(candidate, linked_in_state)
    worst = min(found.places, key=lambda place: place.margin)
    margin = f"{worst.margin:.1f} dB at {place_text(worst.place)}, {worst.state}"
    hottest = max((one.coils.base for one in states), key=lambda base: base.winding.direct_current)
    return Sheet(
        study,
        found.candidate,
        winding_sheet(found, hottest, wire_tolerance),
        bench_card(candidate, states, probe),
        "meets what is required" if found.verdict.passed else f"misses: {found.verdict.failures[0].sentence}",
        margin,
        found.cautions,
    )


def sheet_json(sheet: Sheet) -> dict[str, Any]:
    """The sheet as one object, all in SI, the unit at the end of each name."""
    return {
        "study": sheet.study,
        "design": sheet.candidate.design,
        "verdict": sheet.verdict,
        "winding": finite(sheet.winding.row),
        "orders": list(sheet.winding.orders),
        "remarks": list(sheet.winding.remarks),
        "bench": _with_units(asdict(sheet.bench)),
        "cautions": list(sheet.cautions),
    }


UNITS = {
    "frequency": "Hz", "inductance": "H", "resistance": "ohm", "capacitance": "F", "resonance": "Hz",
    "resonance_with_probe": "Hz", "height": "m", "diameter": "m", "flux_density_peak": "T", "emf_per_ampere": "V",
    "emf_peak": "V", "emf_rms": "V", "current_peak": "A", "own_capacitance_estimate": "F",
}  # fmt: skip
"""Units by the ends of the names of readings."""


def _with_units(found: Any) -> Any:
    """Readings with the unit at the end of each name."""
    if isinstance(found, dict):
        return {_with_unit(name): _with_units(value) for name, value in found.items()}
    return [_with_units(one) for one in found] if isinstance(found, list | tuple) else found


def _with_unit(name: str) -> str:
    ends = [end for end in UNITS if name == end or name.endswith(f"_{end}")]
    return f"{name}_{UNITS[max(ends, key=len)]}" if ends else name


WITH_THE_DRIVE = {
    "series": "the drive's end of the loop is shorted",
    "parallel": "the drive is taken off",
}
"""What becomes of the drive while coil and capacitor are looked at by themselves."""


def sheet_page(sheet: Sheet) -> str:
    """The sheet as a page that needs nothing beside itself."""
    row = sheet.winding.row
    return str(
        page_template("sheet.html.j2").render(
            sheet=sheet,
            swept=", ".join(f"{key} = {value}" for key, value in sheet.candidate.swept),
            frequency=engineering(sheet.candidate.frequency, "Hz"),
            groups=(
                ("Winding", _winding_lines(row)),
                ("Wire", _wire_lines(row)),
                ("Former", _former_lines(row)),
                ("Capacitor", _capacitor_lines(sheet, row)),
                ("Resistance and inductance", _resistance_lines(row)),
                ("What it has to stand", _stress_lines(sheet, row)),
            ),
            with_the_drive=WITH_THE_DRIVE[sheet.candidate.link.tuning],
            shown=_shown,
            meters=METER_FREQUENCIES,
        )
    )


def _shown(value: object, unit: str, digits: int = 4) -> str:
    """A number with its unit; the word for none where there is none."""
    return engineering(float(value), unit, digits) if isinstance(value, int | float) else NONE


def _mm(value: object) -> str:
    return f"{float(value) * 1e3:.4g} mm" if isinstance(value, int | float) else NONE


def _winding_lines(row: Row) -> tuple[Line, ...]:
    if row["laying"] == "random":
        in_layers = "as it falls"
    elif row["layers"] == 1:
        in_layers = "in one layer"
    else:
        in_layers = f"{row['layers']} layers of {row['layer_turns']}"
        if row["last_layer_turns"] != row["layer_turns"]:
            in_layers += f", the last of {row['last_layer_turns']}"
    takes = f"{_mm(row['layers_straight_build_m'])} one upon the other, {_mm(row['layers_nested_build_m'])} in grooves"
    return (
        Line("turns", str(row["turns"])),
        Line("layers", in_layers, takes),
        Line("wire to cut", _shown(_most(row, "wire_length_m", "tight_wire_length_m"), "m", 4), _length_note(row)),
        Line("conductor", _mass(row["conductor_mass_kg"]), "mass, without its covering"),
    )


def _most(row: Row, *names: str) -> float:
    return max(value for name in names if isinstance(value := row[name], float))


def _length_note(row: Row) -> str:
    """How much wire it is wound tight, where that is less than what is cut."""
    tight, note = row["tight_wire_length_m"], "in the winding; add what the leads take"
    if not isinstance(tight, float):
        return note
    return f"spread over the section; {_shown(tight, 'm')} wound tight; add what the leads take"


def _mass(value: object) -> str:
    return engineering(1e3 * value, "g", 3) if isinstance(value, float) else NONE


def _wire_lines(row: Row) -> tuple[Line, ...]:
    names = ("wire_diameter_m", "nearest_gauge_diameter_m", "nearest_metric_size_m")
    bare, gauge, metric = (number(row, name) for name in names)
    return (
        Line("bare", _mm(bare), f"{row['wire_conductor']}, round"),
        Line("over its covering", _mm(row["wire_overall_diameter_m"])),
        Line("nearest gauge", str(row["nearest_gauge"]), f"{_mm(gauge)}, {_off(gauge, bare)} (ASTM B258)"),
        Line("nearest metric size", _mm(metric), f"{_off(metric, bare)} (R20 of ISO 3, as IEC 60317-0-1; from memory)"),
    )


def _off(size: float, wanted: float) -> str:
    share = 100.0 * (size / wanted - 1.0)
    return "the very size" if abs(share) < 0.05 else f"{share:+.1f} %"


def _former_lines(row: Row) -> tuple[Line, ...]:
    return (
        Line("inner diameter", _mm(row["former_inner_diameter_m"]), "the first layer lies on it"),
        Line("width between flanges", _mm(row["former_width_m"])),
        Line("winding, outside", _mm(row["winding_outer_diameter_m"])),
        Line("flanges at least", _mm(row["flange_diameter_m"]), "one wire above the winding (common practice)"),
    )


def _resistance_lines(row: Row) -> tuple[Line, ...]:
    least, most = _shown(row["cold_resistance_least_ohm"], "Ω"), _shown(row["cold_resistance_greatest_ohm"], "Ω")
    percent = f"{100.0 * number(row, 'wire_diameter_tolerance'):g} %"
    at = _shown(row["wire_temperature_degC"], "°C", 4)
    return (
        Line("cold, 20 °C, direct current", _shown(row["cold_resistance_ohm"], "Ω"), "without leads"),
        Line("go from", f"{least} to {most}", _band_note(row, percent)),
        Line("hot, direct current", _shown(row["hot_direct_current_resistance_ohm"], "Ω"), f"wire up to {at}"),
        Line("hot, at the carrier, coil alone", _shown(row["hot_winding_resistance_ohm"], "Ω"), "skin and proximity"),
        Line("hot, installed", _shown(row["hot_installed_resistance_ohm"], "Ω"), "with what the surroundings reflect"),
        Line("inductance, installed", _shown(row["hot_installed_inductance_H"], "H"), "as it works, no tag near"),
        *_turn_by_turn_lines(row),
        Line("Q, installed", _shown(row["hot_installed_q"], "", 3).strip(), "of the coil alone, at the carrier"),
    )


def _band_note(row: Row, percent: str) -> str:
    tight = row["tight_cold_resistance_ohm"]
    told = f"wire diameter ±{percent} (common practice, no source): R goes as 1/d²"
    return told if not isinstance(tight, float) else f"{told}; {_shown(tight, 'Ω')} wound tight is in it"


def _turn_by_turn_lines(row: Row) -> tuple[Line, ...]:
    """Inductance of the winding as wound, where it was reckoned."""
    lines = []
    if row["tight_inductance_H"] is not None:
        change = f"{100.0 * number(row, 'tight_inductance_change'):+.1f} % to the bench card, turn by turn"
        lines.append(Line("in air, layers tight", _shown(row["tight_inductance_H"], "H"), change))
    if row["film_m"] is not None:
        film = f"{1e3 * number(row, 'film_m'):.2g} mm of film between layers"
        lines.append(Line("in air, layers apart", _shown(row["filmed_inductance_H"], "H"), film))
    return tuple(lines)


def _capacitor_lines(sheet: Sheet, row: Row) -> tuple[Line, ...]:
    least, most = row["fitted_capacitance_least_F"], row["fitted_capacitance_greatest_F"]
    band = f"{_shown(least, 'F')} to {_shown(most, 'F')} with their tolerance" if least is not None else ""
    bought = "the study's" if sheet.candidate.coil.capacitor is not None else "the nearest pair of E24"
    return (
        Line("wanted", _shown(row["tuning_capacitance_F"], "F"), f"{sheet.candidate.link.tuning} tuning"),
        Line("parts as bought", str(row["tuning_parts"] or NONE), "; ".join(part for part in (bought, band) if part)),
        Line("stands, peak", _shown(row["capacitor_voltage_V"], "V", 3), "the greatest met; rate it well above"),
        Line("carries, rms", _shown(row["capacitor_current_rms_A"], "A", 3), "harmonics of the drive included"),
    )


def _stress_lines(sheet: Sheet, row: Row) -> tuple[Line, ...]:
    turns = row["neighbour_turns"]
    density = row["current_density_rms_A_per_m2"]
    return (
        Line("across the coil, peak", _shown(row["coil_voltage_V"], "V", 3), "the greatest met, with and without tag"),
        Line(
            "between neighbours, peak",
            _shown(row["worst_neighbour_voltage_V"], "V", 3),
            f"an upper bound, {turns} turns apart; rated {_shown(row['wire_rated_voltage_V'], 'V', 3)}",
        ),
        Line("one turn, peak", _shown(row["most_volts_per_turn_V"], "V", 3), "the turn that links the most flux"),
        Line("current, peak", _shown(row["base_current_A"], "A", 3), "the greatest met"),
        Line(
            "current density, rms",
            f"{density * 1e-6:.3g} A/mm²" if isinstance(density, float) else NONE,
            f"over the bare wire, at a duty of {sheet.candidate.drive.duty:g}",
        ),
        Line(
            "innermost bend",
            _mm(row["bend_radius_m"]),
            f"radius; at least {_mm(row['least_bend_radius_m'])} ({bend_source(sheet.candidate)})",
        ),
        Line(
            "wire temperature",
            f"{row['wire_temperature_degC']:g} °C",
            f"as given or assumed, not computed; rated {_degrees(row['wire_rated_temperature_degC'])}",
        ),
    )


def _degrees(value: object) -> str:
    return f"{value:g} °C" if isinstance(value, int | float) else NONE
