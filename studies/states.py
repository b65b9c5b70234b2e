"""``[temperatures.NAME]``: named states of every candidate, each of which sets the temperatures of several parts."""

from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches

from studies.assembly import sound_tables
from studies.faults import Finding, KeyPath
from studies.keypaths import Raw, label, replaced, resolved, split_key_path, value_at
from studies.quantities import QuantityError, kind_of, shortened
from studies.schema_faults import has_key
from studies.schema_values import Name
from studies.specification import AS_GIVEN, COLD
from studies.sweep import Axis, BaseDesign

TABLE = "temperatures"
TUNED_IN: KeyPath = ("link", "tuned_in")
LARGEST_STATES = 20
_STATES = 'tables of states, as in [temperatures.hot] with "layers.heater" = "350 degC"'
_PARTS = 'parts with their temperatures, as in "layers.heater" = "350 degC"'


@dataclass(frozen=True, slots=True)
class Setting:
    """One temperature that a state sets: where it stands in the file, where it goes, and its value as given."""

    place: KeyPath
    path: KeyPath
    value: object


@dataclass(frozen=True, slots=True)
class NamedState:
    """A state of the file: its name, and what it sets."""

    name: str
    settings: tuple[Setting, ...]

    def set_in(self, raw: Raw) -> Raw:
        """A copy of the file's tables with the state's temperatures."""
        for setting in self.settings:
            raw = replaced(raw, setting.path, setting.value)
        return raw


def read_states(table: object, raw: Raw, axes: tuple[Axis, ...]) -> tuple[tuple[NamedState, ...], tuple[Finding, ...]]:
    """The states of a ``[temperatures]`` table, their temperatures not yet looked at; none where the file has none.

    Parameters
    ----------
    table : object
        As read; None where the file has none.
    raw : dict
        The rest of the file.
    axes : tuple of Axis
        What is swept: none of it may be a temperature that a state sets.
    """
    if table is None:
        return (), ()
    if not isinstance(table, dict) or not 1 <= len(table) <= LARGEST_STATES:
        given = kind_of(table) if not isinstance(table, dict) else f"a table of {len(table)} states"
        return (), (Finding((TABLE,), given, f"1 to {LARGEST_STATES} {_STATES}"),)
    states: list[NamedState] = []
    findings: list[Finding] = []
    for name, parts in table.items():
        settings, found = _state(name, parts, raw, axes)
        states.append(NamedState(name, settings))
        findings += found
    return tuple(states), tuple(findings)


def tuned_in_faults(raw: Raw, states: tuple[NamedState, ...], axes: tuple[Axis, ...]) -> tuple[Finding, ...]:
    """States to be tuned in that there are not: the file's one, and those of a sweep."""
    link = raw.get("link")
    asked: list[tuple[KeyPath, object]] = [(TUNED_IN, link.get("tuned_in") if isinstance(link, dict) else None)]
    asked += [((*axis.place, i), one) for axis in axes if axis.path == TUNED_IN for i, one in enumerate(axis.given)]
    known = dict.fromkeys((AS_GIVEN, COLD, *(state.name for state in states)))
    findings = []
    for place, name in asked:
        if isinstance(name, str) and name not in known:
            near = get_close_matches(name, known, 1, 0.5)
            given, allowed = f'no state is called "{shortened(name)}"', f"one of {', '.join(known)}"
            findings.append(Finding(place, given, allowed, near[0] if near else ""))
    return tuple(findings)


def _state(
    name: str, parts: object, raw: Raw, others: tuple[Axis, ...]
) -> tuple[tuple[Setting, ...], tuple[Finding, ...]]:
    place: KeyPath = (TABLE, name)
    settings: list[Setting] = []
    findings: list[Finding] = []
    try:
        Name().read(name)
        if name == AS_GIVEN:
            raise QuantityError(f'"{AS_GIVEN}" is what the rest of the file describes', "another name")
        if not isinstance(parts, dict):
            raise QuantityError(f"{kind_of(parts)} where a table belongs", _PARTS)
        if not parts:
            raise QuantityError("a state that names no part", _PARTS)
    except QuantityError as error:
        return (), (Finding(place, error.given, error.allowed, error.hint),)
    for where, value in _entries(parts, place):
        try:
            setting = _setting(where, value, raw)
            _check_apart(setting, settings, others)
            settings.append(setting)
        except QuantityError as error:
            findings.append(Finding(where, error.given, error.allowed, error.hint))
    return tuple(settings), tuple(findings)


def _entries(parts: Raw, place: KeyPath) -> Iterator[tuple[KeyPath, object]]:
    """Parts of a state; a dotted key without quotation marks makes tables within it."""
    for key, value in parts.items():
        if isinstance(value, dict) and value:
            yield from _entries(value, (*place, key))
        else:
            yield (*place, key), value


def _setting(place: KeyPath, value: object, raw: Raw) -> Setting:
    key = ".".join(str(part) for part in place[2:])
    path = resolved(raw, split_key_path(key))
    known = parts_with_temperature(raw)
    if path not in known:
        names = [label(raw, part) for part in known]
        near = get_close_matches(key.removesuffix(".temperature"), names, 1)
        allowed = f"one of {', '.join(names)}" if names else "parts that the file has"
        raise QuantityError(f"{key} is no part with a temperature", allowed, near[0] if near else "")
    return Setting(place, (*path, "temperature"), value)


def _check_apart(setting: Setting, settings: list[Setting], others: tuple[Axis, ...]) -> None:
    if any(other.path == setting.path for other in settings):
        raise QuantityError("the same part twice in one state", "each part once")
    for axis in others:
        if setting.path[: len(axis.path)] == axis.path:
            raise QuantityError(f"its temperature is swept as well, by {axis.key}", "one of the two")


def parts_with_temperature(raw: Raw) -> list[KeyPath]:
    """Paths of all tables of a file that can be given a temperature."""
    found: list[KeyPath] = []

    def walk(node: object, path: KeyPath) -> None:
        if isinstance(node, dict):
            if path and has_key(path, "temperature") and node.get("kind") != "gap":
                found.append(path)
            entries: Iterator[tuple[str | int, object]] = iter(node.items())
        else:
            entries = iter(enumerate(node)) if isinstance(node, list) else iter(())
        for key, value in entries:
            walk(value, (*path, key))

    walk(raw, ())
    return found


def with_state(raw: Raw, name: str) -> tuple[Raw, tuple[KeyPath, ...]]:
    """A whole file as one of its states has it, its other states left out; and the paths that are set.

    Raises
    ------
    QuantityError
        No such state, or one with a fault.
    """
    table = raw.get(TABLE)
    names = list(table) if isinstance(table, dict) else []
    if not isinstance(table, dict) or name not in names:
        near = get_close_matches(name, names, 1, 0.5)
        allowed = f"one of {', '.join(names)}" if names else f"{_STATES}: the file has none"
        raise QuantityError(f'no state is called "{name[:60]}"', allowed, near[0] if near else "")
    rest = {key: value for key, value in raw.items() if key != TABLE}
    settings, findings = _state(name, table[name], rest, ())
    for fault in findings:
        key = ".".join(str(part) for part in fault.path)
        raise QuantityError(f"{key}: {fault.given}", fault.allowed, fault.hint)
    for setting in settings:
        rest = replaced(rest, setting.path, setting.value)
    return rest, tuple(setting.path for setting in settings)


def checked_states(states: tuple[NamedState, ...], base: BaseDesign) -> tuple[Finding, ...]:
    """Try every state by itself in the base design; only what is wrong with its temperatures is reported."""
    findings: list[Finding] = []
    for state in states:
        _, found = sound_tables(state.set_in(base.filled), base.particulars.swept_paths)
        for fault in dict.fromkeys(found):
            at = [setting.place for setting in state.settings if fault.path[: len(setting.path)] == setting.path]
            if at:
                findings.append(Finding(at[0], fault.given, fault.allowed, fault.hint))
    return tuple(findings)


def state_lines(states: tuple[NamedState, ...]) -> list[str]:
    """Each state of the file in one line."""
    return [
        f"State {state.name}: {', '.join(f'{_key(setting)} {setting.value}' for setting in state.settings)}"
        for state in states
    ]


def _key(setting: Setting) -> str:
    return ".".join(str(part) for part in setting.place[2:])


def states_path(raw: Raw, keys: tuple[str, ...]) -> KeyPath:
    """Where ``temperatures.hot.layers.heater`` of the command line stands: a part is one key, dots included."""
    if len(keys) <= 2:
        return keys
    part = ".".join(keys[2:])
    within = (*keys[:2], *part.split("."))
    return within if value_at(raw, within) is not None else (*keys[:2], part)
