"""The report's table of states: what changes from cold to hot, and which state decides."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isfinite

from studies.engineering import engineering
from studies.report_numbers import NONE
from studies.rows import AnyRow
from studies.specification import Candidate


@dataclass(frozen=True, slots=True)
class StateRow:
    """A quantity in every state; ``worst`` is the place of the one that decides, −1 where none does."""

    name: str
    values: tuple[str, ...]
    worst: int = -1


@dataclass(frozen=True, slots=True)
class StateTable:
    """Names of the states, the one it is tuned in, the finding in a sentence, and the rows."""

    names: tuple[str, ...]
    tuned_in: str
    finding: str
    rows: tuple[StateRow, ...]


def state_table(candidate: Candidate, states: Sequence[AnyRow]) -> StateTable | None:
    """The table; None for a candidate with one state only, or stored before states were."""
    if len(states) < 2:
        return None
    names = tuple(str(row["state"]) for row in states)
    rows = tuple(
        _row(states, words, column, unit, worst) for words, column, unit, worst in _SHOWN if column in states[0]
    )
    margins = [_number(row, "margin_dB") for row in states]
    least, most = min(margins), max(margins)
    at = margins.index(least)
    finding = f"The margin is least in the state “{names[at]}”, {_decibels(least)}"
    finding += f"; at best it is {_decibels(most)}, “{names[margins.index(most)]}”." if most - least >= 0.05 else "."
    tuned_in = candidate.tuned_in if candidate.tuned_in in names else names[0]
    return StateTable(names, tuned_in, finding, rows)


_Worst = Callable[[Sequence[float]], float] | None

_SHOWN: tuple[tuple[str, str, str, _Worst], ...] = (
    ("margin at the worst place", "margin_dB", "dB", min),
    ("margin, parts as bought", "margin_as_fitted_dB", "dB", min),
    ("read height on the axis", "read_height_m", "m", min),
    ("read height, worst", "required_read_height_m", "m", min),
    ("coil voltage, peak", "coil_voltage_V", "V", max),
    ("base current, peak", "base_current_A", "A", max),
    ("input power", "input_power_W", "W", max),
    ("wire temperature", "wire_temperature_degC", "°C", max),
    ("base coil, L", "base_inductance_H", "H", None),
    ("base coil, R", "base_resistance_ohm", "Ω", None),
    ("base coil, Q", "base_q", "", None),
    ("base off tune", "base_detuning", "%", None),
    ("tag, L", "tag_inductance_H", "H", None),
    ("tag, R", "tag_resistance_ohm", "Ω", None),
    ("tag off tune", "tag_detuning", "%", None),
)


def _row(states: Sequence[AnyRow], words: str, column: str, unit: str, worst: _Worst) -> StateRow:
    values = [row.get(column) for row in states]
    numbers = [value for value in values if isinstance(value, float) and isfinite(value)]
    texts = tuple(_text(value, unit) for value in values)
    if worst is None or len(numbers) < len(values) or len(set(texts)) == 1:
        return StateRow(words, texts)
    return StateRow(words, texts, numbers.index(worst(numbers)))


def _text(value: object, unit: str) -> str:
    if not isinstance(value, float) or not isfinite(value):
        return NONE
    if unit == "dB":
        return _decibels(value)
    if unit == "%":
        return f"{100.0 * value:+.2f} %".replace("-", "−")
    if unit == "°C":
        return f"{value:.0f} °C"
    return f"{value:.3g}" if not unit else engineering(value, unit, 4)


def _decibels(value: float) -> str:
    return f"{value:.1f} dB".replace("-", "−")


def _number(row: AnyRow, name: str) -> float:
    value = row[name]
    assert isinstance(value, float), "a margin is a number"
    return value
