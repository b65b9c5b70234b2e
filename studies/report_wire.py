"""The report's table of the base coil's wire: what is asked of it beside what it stands."""

from dataclasses import dataclass

from studies.engineering import engineering
from studies.findings import number
from studies.report_numbers import NONE
from studies.specification import Candidate
from studies.stored import StoredDesign
from studies.wire_limits import bend_source, laid

OPEN = "none given"


@dataclass(frozen=True, slots=True)
class Rated:
    """A line of the table: what, how much, what is allowed, how much of that is used, and a remark."""

    name: str
    value: str
    rating: str
    used: str
    remark: str = ""


def wire_lines(candidate: Candidate, stored: StoredDesign) -> tuple[Rated, ...]:
    """Each limit of the base coil's wire; nothing for results of before they were computed."""
    if number(stored, "worst_neighbour_voltage_V") is None:
        return ()
    return (
        _between_neighbours(candidate, stored),
        _one_turn(stored),
        _current_density(candidate, stored),
        _bend(candidate, stored),
        _temperature(candidate),
    )


def _between_neighbours(candidate: Candidate, stored: StoredDesign) -> Rated:
    voltage, rated = number(stored, "worst_neighbour_voltage_V"), candidate.coil.wire.rated_voltage
    turns = int(number(stored, "neighbour_turns") or 0)
    return Rated(
        "voltage between neighbouring turns, peak",
        _shown(voltage, "V"),
        _shown(rated, "V", OPEN),
        _share(voltage, rated),
        f"an upper bound: {turns} turn{'s' if turns != 1 else ''} apart, laid {laid(candidate)}",
    )


def _one_turn(stored: StoredDesign) -> Rated:
    share, most = number(stored, "volts_per_turn_V"), number(stored, "most_volts_per_turn_V")
    return Rated(
        "voltage of one turn, peak",
        _shown(share, "V"),
        NONE,
        "",
        f"the even share; the turn that links the most flux has about {_shown(most, 'V')}",
    )


def _current_density(candidate: Candidate, stored: StoredDesign) -> Rated:
    density, rated = number(stored, "current_density_rms_A_per_m2"), candidate.coil.wire.rated_current_density
    return Rated(
        "current density, rms",
        NONE if density is None else _ampere(density),
        OPEN if rated is None else _ampere(rated),
        _share(density, rated),
        f"over the bare wire, at a duty of {candidate.drive.duty:g}",
    )


def _bend(candidate: Candidate, stored: StoredDesign) -> Rated:
    radius, least = number(stored, "bend_radius_m"), number(stored, "least_bend_radius_m")
    rating = NONE if least is None else f"at least {engineering(least, 'm', 3)}"
    return Rated(
        "bend radius, innermost turn", _shown(radius, "m"), rating, _share(least, radius), bend_source(candidate)
    )


def _temperature(candidate: Candidate) -> Rated:
    wire = candidate.coil.wire
    used, rated = "", OPEN
    if wire.rated_temperature is not None:
        left = wire.rated_temperature - wire.temperature
        rated, used = f"{wire.rated_temperature:g} °C", f"{abs(left):g} K {'left' if left >= 0.0 else 'too hot'}"
    return Rated("wire temperature", f"{wire.temperature:g} °C", rated, used, "as given or assumed, not computed")


def _shown(value: float | None, unit: str, missing: str = NONE) -> str:
    return missing if value is None else engineering(value, unit, 3)


def _ampere(density: float) -> str:
    return f"{density * 1e-6:.3g} A/mm²"


def _share(value: float | None, rating: float | None) -> str:
    """How much of a rating is used; empty where there is none."""
    return "" if value is None or rating is None else f"{100.0 * value / rating:.3g} %"
