"""The axes of a sweep: which keys take which values."""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from operator import attrgetter

from pydantic import BaseModel

from studies.assembly import Particulars, assembled, reach_of_tag, sound_tables
from studies.assembly_tag import Extent
from studies.faults import Finding, KeyPath
from studies.keypaths import Raw, label, removed, replaced, resolved, split_key_path, value_at
from studies.quantities import LARGEST_COUNT, QuantityError, kind_of, range_ends, shortened, spread_range
from studies.rules import rival
from studies.schema_faults import read_sections
from studies.tomltext import toml_value

LARGEST_AXES = 50

TAGS_BUILT = 20
"""Of the largest tags along an axis, so many are tried in the base design for whether they go into it."""

Value = float | int | str

_NOT_SWEPT = {
    ("study", "name"): "the name belongs to all candidates",
    ("map",): "one grid of places serves all candidates, so that their maps can be laid side by side",
    ("vessels",): "all candidates are looked at in the same vessels",
    ("sweep",): "a sweep cannot sweep itself",
    ("sampling",): "it says how all of the sweep is sampled",
    ("temperatures",): "every candidate is judged in all of its states",
    ("spread",): "it says how units as built differ from their design",
}


@dataclass(frozen=True, slots=True)
class Axis:
    """One swept key.

    Parameters
    ----------
    key : str
        Key path as the file spells it.
    place : KeyPath
        Where the axis stands in the file.
    path : KeyPath
        Where its values go.
    given : tuple
        Its values as the file gives them.
    values : tuple of float, int or str
        The same in SI, or as words; empty until checked.
    ranged : bool
        Whether its two values are the ends of a range that is sampled.
    """

    key: str
    place: KeyPath
    path: KeyPath
    given: tuple[object, ...]
    values: tuple[Value, ...] = ()
    ranged: bool = False


def read_axes(sweep: object, raw: Raw, sampled: bool = False) -> tuple[tuple[Axis, ...], tuple[Finding, ...]]:
    """The axes of a ``[sweep]`` table, their values not yet looked at.

    Parameters
    ----------
    sweep : object
        The table as read; None where the file has none.
    raw : dict
        The rest of the file.
    sampled : bool
        Whether ranges are given by their ends alone, since points are spread through them.
    """
    if sweep is None:
        return (), ()
    if not isinstance(sweep, dict):
        return (), (Finding(("sweep",), f"{kind_of(sweep)} where a table belongs", "a table of key paths"),)
    axes: list[Axis] = []
    findings: list[Finding] = []
    entries = list(swept_entries(sweep, ("sweep",)))
    if len(entries) > LARGEST_AXES:
        return (), (Finding(("sweep",), f"{len(entries)} swept keys", f"at most {LARGEST_AXES}"),)
    for place, given in entries:
        try:
            axis = _axis(place, given, raw, sampled)
            _check_apart(axis, axes)
            axes.append(axis)
        except QuantityError as error:
            findings.append(Finding(place, error.given, error.allowed, error.hint))
    return tuple(axes), tuple(findings)


def swept_entries(table: Raw, place: KeyPath) -> Iterator[tuple[KeyPath, object]]:
    """Entries of the sweep; a dotted key without quotation marks makes tables within it."""
    for key, value in table.items():
        if isinstance(value, dict) and value and not {"from", "to", "count"} & set(value):
            yield from swept_entries(value, (*place, key))
        else:
            yield (*place, key), value


def _axis(place: KeyPath, given: object, raw: Raw, sampled: bool) -> Axis:
    key = ".".join(str(part) for part in place[1:])
    path = resolved(raw, split_key_path(key))
    for start, reason in _NOT_SWEPT.items():
        if path[: len(start)] == start:
            raise QuantityError(f"{'.'.join(start)} cannot be swept: {reason}", "any other key of the file")
    if sampled and isinstance(given, dict):
        return Axis(key, place, path, _ends(given), ranged=True)
    values = spread_range(given) if isinstance(given, dict) else given
    if not isinstance(values, list):
        raise QuantityError(f"{kind_of(given)}, not several values", "a list of values or a range { from, to, count }")
    if not 1 <= len(values) <= LARGEST_COUNT:
        raise QuantityError(f"a list of {len(values)} values", f"1 to {LARGEST_COUNT} values")
    return Axis(key, place, path, tuple(values))


def _ends(given: Raw) -> tuple[object, object]:
    """Both ends of a range that is sampled."""
    shape = "a range { from, to } with different ends; sampling.count says how many points"
    if set(given) != {"from", "to"}:
        odd = next((key for key in given if key not in ("from", "to")), None)
        missing = next((key for key in ("from", "to") if key not in given), "")
        raise QuantityError(f"a range with {shortened(odd)}" if odd else f"a range without {missing}", shape)
    first, last, _ = range_ends(given["from"], given["to"], shape)
    if first == last:
        raise QuantityError("a range whose ends are the same", shape)
    return given["from"], given["to"]


def _check_apart(axis: Axis, others: list[Axis]) -> None:
    for other in others:
        shared = min(len(axis.path), len(other.path))
        if axis.path[:shared] == other.path[:shared] or rival(axis.path) == other.path:
            raise QuantityError(f"{axis.key} and {other.key} sweep the same thing", "one of the two")


def with_value(raw: Raw, path: KeyPath, value: object) -> Raw:
    """A copy of ``raw`` with ``value`` at ``path``, in the place of a key that may not stand beside it."""
    other = rival(path)
    return replaced(raw if other is None else removed(raw, other), path, value)


def with_axis_value(raw: Raw, axis: Axis, index: int) -> Raw:
    """A copy of ``raw`` with one of an axis's values."""
    return with_value(raw, axis.path, axis.given[index])


def with_first_values(raw: Raw, axes: tuple[Axis, ...]) -> Raw:
    """The file of the base design: a swept key that the file itself leaves open takes its first swept value there."""
    for axis in axes:
        other = rival(axis.path)
        if value_at(raw, axis.path) is None and (other is None or value_at(raw, other) is None):
            raw = replaced(raw, axis.path, axis.given[0])
    return raw


@dataclass(frozen=True, slots=True)
class BaseDesign:
    """The base design's tables: as the ``file`` gives them and as ``filled`` from axes; what is wrong with them."""

    file: Raw
    filled: Raw
    findings: tuple[Finding, ...]
    particulars: Particulars

    def own_findings(self, axes: tuple[Axis, ...]) -> tuple[Finding, ...]:
        """What is wrong with the file apart from swept values that fill it: those are told at their axis."""
        return tuple(f for f in self.findings if f.geometric or not any(self.comes_from(f, axis) for axis in axes))

    def comes_from(self, finding: Finding, axis: Axis) -> bool:
        """Whether a finding is of a swept value, or of a table that is only there to hold it."""
        path = finding.path
        if value_at(self.file, path) is not None:
            return False
        return _within(path, axis.path) or _within(axis.path, path)


@dataclass(frozen=True, slots=True)
class CheckedAxis:
    """An axis with its values in SI, what is wrong with single values, and the largest tag along it."""

    axis: Axis
    findings: tuple[Finding, ...]
    largest_tag: Extent | None


def checked_axis(axis: Axis, base: BaseDesign, repeats: bool = False) -> CheckedAxis:
    """Try every value of an axis by itself in the base design; ``repeats`` lets one value come more than once.

    Only what is wrong with the value itself is reported: a base design that cannot be built with it is a
    failed candidate, no faulty file. So the tables alone are looked at: to put ten thousand candidates together takes
    minutes.
    """
    told_elsewhere = frozenset(finding for finding in base.findings if not base.comes_from(finding, axis))
    values: list[Value] = []
    seen: set[Value] = set()
    findings: list[Finding] = []
    reaches: list[tuple[Extent, int]] = []
    for i, given in enumerate(axis.given):
        changed = with_value(base.filled, axis.path, given)
        sections, found = sound_tables(changed, base.particulars.swept_paths)
        new = [f for f in dict.fromkeys(found) if _within(f.path, axis.path) or f not in told_elsewhere]
        findings += [_at_axis(f, axis, i, changed) for f in new]
        value = _value_in(changed, axis.path, given)
        if value in seen and not new and not repeats:
            findings.append(Finding((*axis.place, i), f"{shortened(given)} comes twice", "values that differ"))
        values.append(value)
        seen.add(value)
        reach = reach_of_tag(sections) if axis.path[0] == "tag" and not found else None
        reaches += [] if reach is None else [(reach, i)]
    checked = replace(axis, values=tuple(values))
    return CheckedAxis(checked, _once(findings, axis), _largest_tag(reaches, axis, base))


def _largest_tag(reaches: list[tuple[Extent, int]], axis: Axis, base: BaseDesign) -> Extent | None:
    """How far the tags reach that can be built with the rest of the base design: the widest, and the highest.

    Where none of the largest few can, the next one is taken for one that can.
    """
    largest: Extent | None = None
    for name in ("radius", "half_height"):
        size: Callable[[Extent], float] = attrgetter(name)
        # Of tags alike in size the first is tried.
        sizes = {size(extent): (extent, place) for extent, place in reversed(reaches)}
        falling = [sizes[one] for one in sorted(sizes, reverse=True)]
        for tried, (extent, place) in enumerate(falling):
            if largest is not None and size(extent) <= size(largest):
                break
            changed = with_value(base.filled, axis.path, axis.given[place])
            if tried == TAGS_BUILT or assembled(changed, base.particulars)[0] is not None:
                largest = extent if largest is None else largest.joined(extent)
                break
    return largest


def _within(path: KeyPath, around: KeyPath) -> bool:
    return path[: len(around)] == around


def _at_axis(finding: Finding, axis: Axis, index: int, raw: Raw) -> Finding:
    """A finding told at the swept value that brings it about; ``raw`` holds that value."""
    elsewhere = "" if finding.path == axis.path else f"{label(raw, finding.path)}: "
    return Finding((*axis.place, index), elsewhere + finding.given, finding.allowed, finding.hint)


def _once(findings: list[Finding], axis: Axis) -> tuple[Finding, ...]:
    """What every value brings about, such as an unknown key, is told once and of the key."""
    alike = Counter(finding.sentence for finding in findings)
    told: dict[Finding, None] = {}
    for finding in findings:
        if alike[finding.sentence] == len(axis.given) > 1 or "not a key known here" in finding.given:
            finding = Finding(axis.place, finding.given, finding.allowed, finding.hint)
        told[finding] = None
    return tuple(told)


def _value_in(raw: Raw, path: KeyPath, given: object) -> Value:
    """The value at a path once read; a table or a list as the text the file would hold."""
    sections, _ = read_sections(raw)
    node: object = sections
    for key in path:
        inside_list = isinstance(node, list) and isinstance(key, int)
        node = node[key] if inside_list else getattr(node, str(key), None)  # type: ignore[index]
    if isinstance(node, (float, int, str)) and not isinstance(node, bool):
        return node
    return toml_value(given) if isinstance(node, (BaseModel, list)) else shortened(given)
