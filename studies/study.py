"""Reads a study file into a checked ``Study``, or says everything that is wrong with it.

The schema takes a quarter of a second to load; a command that only wants ``--help`` does not, so what needs it is
imported where it is used.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING

from geometries.errors import GeometryError
from studies.faults import Fault, Finding, KeyPath, StudyFaults
from studies.keylines import key_lines, line_of
from studies.keypaths import Raw, label, resolved, value_at
from studies.quantities import QuantityError
from studies.sizing import memory_fault
from studies.specification import Candidate, Formulation
from studies.tomltext import toml_text

if TYPE_CHECKING:
    from studies.assembly import Particulars
    from studies.assembly_tag import Extent
    from studies.sampling import Sampling
    from studies.spread import Spread
    from studies.states import NamedState
    from studies.sweep import Axis, BaseDesign, CheckedAxis, Value

NOT_OF_A_CANDIDATE = ("sweep", "sampling", "temperatures", "spread")
"""Tables of a file that say which candidates, states and units there are, not what a candidate is."""

LARGEST_FILE = 10_000_000
LARGEST_SWEEP = 1_000_000
DEEPEST = 30
"""Levels of tables and lists; ours have seven."""

ENTRIES_TOLD = 5
"""Of a list's faulty entries, so many have a line of their own."""

_BETWEEN_KEYS = re.compile(r"[=,\[\]{}]")
_ERROR_LINE = re.compile(r"\(at line (\d+), column \d+\)")


@dataclass(frozen=True, slots=True)
class Study:
    """A checked study.

    Parameters
    ----------
    name : str
        As the file gives it.
    path : Path
        The file.
    text : str
        TOML source as run. Where values were set over the file it is written anew, and says which.
    base : Candidate
        The file's own design, ``"base"``; a swept key that the file leaves open has its first swept value there.
    raw : dict
        Tables of the base design.
    swept_axes : tuple of Axis
        Swept keys with their values.
    largest_tag : Extent
        How far any tag of the study reaches; sets where a default map begins.
    sampling : Sampling or None
        How points were spread through the axes, each of which then has a value a candidate; None for their product.
    formulation : Formulation
        How the candidates' base fields are solved for where the file does not say: by their number.
    states : tuple of NamedState
        What ``[temperatures]`` names: every candidate is judged in all of them.
    spreads : tuple of Spread
        What ``[spread]`` says of units as built.
    """

    name: str
    path: Path
    text: str
    base: Candidate
    raw: Raw = field(repr=False)
    swept_axes: tuple[Axis, ...] = field(repr=False)
    largest_tag: Extent = field(repr=False)
    sampling: Sampling | None = None
    formulation: Formulation = "total field"
    states: tuple[NamedState, ...] = ()
    spreads: tuple[Spread, ...] = ()

    @property
    def axes(self) -> tuple[tuple[str, tuple[Value, ...]], ...]:
        """Key path and values (SI numbers or words) of each swept key."""
        return tuple((axis.key, axis.values) for axis in self.swept_axes)

    @property
    def count(self) -> int:
        """Number of candidates: the points sampled, or the product of all axes; 1 where nothing is swept."""
        if self.sampling is not None:
            return self.sampling.count
        return prod(len(axis.values) for axis in self.swept_axes)

    def design_name(self, index: int) -> str:
        """Name of a candidate in every output, ``c0001`` for index 0."""
        return f"c{index + 1:0{max(4, len(str(self.count)))}d}"

    def swept(self, index: int) -> tuple[tuple[str, Value], ...]:
        """Swept keys and their values in a candidate, which need not be one that can be built."""
        places = self.places(index)
        return tuple((axis.key, axis.values[place]) for axis, place in zip(self.swept_axes, places, strict=True))

    def candidate(self, index: int) -> Candidate:
        """One candidate; the last axis runs fastest.

        Parameters
        ----------
        index : int
            0 to ``count`` − 1.

        Returns
        -------
        Candidate

        Raises
        ------
        IndexError
            No such candidate.
        GeometryError
            A combination that cannot be built, named by its key.
        """
        from studies.assembly import Particulars, assembled
        from studies.state_candidates import in_all_states
        from studies.sweep import with_axis_value

        raw = self.raw
        for axis, place in zip(self.swept_axes, self.places(index), strict=True):
            raw = with_axis_value(raw, axis, place)
        paths = frozenset(axis.path for axis in self.swept_axes)
        particulars = Particulars(self.design_name(index), self.swept(index), paths, self.largest_tag, self.formulation)
        candidate, findings = assembled(raw, particulars)
        if candidate is None:
            raise GeometryError(label(raw, findings[0].path), "; also ".join(_clauses(findings, raw)))
        return in_all_states(candidate, raw, particulars, self.states)

    def candidates(self) -> Iterator[Candidate]:
        """All candidates in order; one that cannot be built ends it with its GeometryError."""
        return (self.candidate(index) for index in range(self.count))

    def places(self, index: int) -> tuple[int, ...]:
        """Which value of each axis a candidate takes."""
        if not 0 <= index < self.count:
            raise IndexError(f"candidate {index} of a study with {self.count}")
        if self.sampling is not None:
            return (index,) * len(self.swept_axes)
        places: list[int] = []
        for axis in reversed(self.swept_axes):
            index, place = divmod(index, len(axis.values))
            places.append(place)
        return tuple(reversed(places))


def _clauses(findings: Sequence[Finding], raw: Raw) -> list[str]:
    first, *rest = findings
    return [first.sentence, *(f"{label(raw, finding.path)}: {finding.sentence}" for finding in rest)]


def read_study(path: Path, overrides: Sequence[str] = ()) -> Study:
    """Read and check a study file.

    Parameters
    ----------
    path : Path
        The file.
    overrides : sequence of str
        Values set over the file's, ``key=value`` each.

    Returns
    -------
    Study

    Raises
    ------
    StudyFaults
        With every fault of the file at once.
    """
    return study_of(_file_text(path), path, overrides)


def study_of(text: str, path: Path, overrides: Sequence[str] = ()) -> Study:
    """The study that a text describes, checked; ``path`` only names it in faults, which are raised as in `read_study`.

    A worker on another machine is given the text, since it may not see the file.
    """
    from studies.overrides import with_overrides

    whole = _parsed(text, path)
    whole, set_paths, findings = with_overrides(whole, tuple(overrides))
    report = _Report(str(path), key_lines(text), set_paths, whole)
    if findings:
        raise StudyFaults(report.setting_fault(finding) for finding in findings)
    as_run = _noted(whole, tuple(overrides), path) if overrides else text
    return _checked(whole, report, (path, as_run))


def _checked(whole: Raw, report: _Report, source: tuple[Path, str]) -> Study:
    """The study, or all faults of its base design and of its axes."""
    from studies.assembly import Particulars, assembled
    from studies.sampling import LISTED, TABLE, read_sampling, sampled, too_many_values, uneven_lists
    from studies.sharing import fitting_formulation
    from studies.spread import read_spread
    from studies.spread_check import spread_findings
    from studies.states import checked_states, read_states, tuned_in_faults
    from studies.sweep import BaseDesign, checked_axis, read_axes, with_first_values

    rest = {key: value for key, value in whole.items() if key not in NOT_OF_A_CANDIDATE}
    table = whole.get(TABLE)
    listed = isinstance(table, dict) and table.get("method") == LISTED
    axes, findings = read_axes(whole.get("sweep"), rest, table is not None and not listed)
    states, state_findings = read_states(whole.get("temperatures"), rest, axes)
    findings = (*findings, *state_findings, *tuned_in_faults(rest, states, axes))
    sampling, sampling_findings = read_sampling(table, bool(axes or findings))
    findings += (*sampling_findings, *(uneven_lists(axes) if listed else ()))
    if sampling is not None and listed:
        sampling = replace(sampling, count=len(axes[0].given) if axes else 0)
    particulars = Particulars(swept_paths=frozenset(axis.path for axis in axes))
    spreads, of_spreads = read_spread(whole.get("spread"), rest, axes)
    findings += of_spreads
    raw = with_first_values(rest, axes)
    base, base_findings = assembled(raw, particulars)
    design = BaseDesign(rest, raw, base_findings, particulars)
    if sampling is not None:
        too_many = too_many_values(sampling, axes)
    else:
        too_many = () if "sampling" in whole else _too_many(axes)
    findings += (*too_many, *design.own_findings(axes))
    # A hopelessly large sweep is refused before each of its values is tried.
    looked_at = () if too_many else axes
    checked = tuple(checked_axis(axis, design, repeats=listed) for axis in looked_at)
    findings += tuple(finding for one in checked for finding in one.findings)
    findings += checked_states(states, design)
    findings += () if findings else spread_findings(spreads, axes, design)
    if findings or base is None:
        raise StudyFaults(report.faults(findings))
    study = _in_all_states(_study(design, base, checked, source), states, particulars, report)
    if sampling is not None:
        study = replace(study, swept_axes=sampled(study.swept_axes, sampling), sampling=sampling)
    _check_size(study, report)
    return replace(study, formulation=fitting_formulation(study), spreads=spreads)


def _too_many(axes: tuple[Axis, ...]) -> tuple[Finding, ...]:
    count = prod(len(axis.given) for axis in axes)
    if count <= LARGEST_SWEEP:
        return ()
    return (Finding(("sweep",), f"the product of all lists is {count} designs", f"at most {LARGEST_SWEEP}"),)


def _study(design: BaseDesign, base: Candidate, checked: tuple[CheckedAxis, ...], source: tuple[Path, str]) -> Study:
    """A study all of whose candidates share one map, which clears the plate with the largest tag of them all."""
    from studies.assembly import assembled
    from studies.assembly_tag import tag_extent

    largest = tag_extent(base.tag)
    for one in checked:
        largest = largest if one.largest_tag is None else largest.joined(one.largest_tag)
    again, _ = assembled(design.filled, replace(design.particulars, largest_tag=largest))
    path, text = source
    name = str(value_at(design.filled, ("study", "name")))
    return Study(name, path, text, again or base, design.filled, tuple(one.axis for one in checked), largest)


def _in_all_states(study: Study, states: tuple[NamedState, ...], particulars: Particulars, report: _Report) -> Study:
    """The study with its base design in all states; a fault where it cannot be put together in one of the file's."""
    from studies.state_candidates import in_all_states

    particulars = replace(particulars, largest_tag=study.largest_tag)
    try:
        base = in_all_states(study.base, study.raw, particulars, states)
    except GeometryError as error:
        path = tuple(error.key.split(".", 1))
        raise StudyFaults(
            report.faults([Finding(path, error.message, "a state that can be computed, or none")])
        ) from None
    return replace(study, base=base, states=states)


def _check_size(study: Study, report: _Report) -> None:
    """Refuse what would run out of memory hours later."""
    grid = study.base.grid
    fault = memory_fault(len(grid.heights) * len(grid.offsets) * len(grid.tilts))
    if fault is not None:
        raise StudyFaults(report.faults([Finding(("map",), *fault)]))


@dataclass(frozen=True, slots=True)
class _Report:
    """Turns findings into faults: the file, its lines, what was set over it, and the tables as they are now."""

    file: str
    lines: dict[KeyPath, int]
    set_paths: tuple[KeyPath, ...]
    raw: Raw

    def line(self, path: KeyPath) -> int | None:
        return line_of(self.lines, path)

    def faults(self, findings: Iterable[Finding]) -> list[Fault]:
        return [self.fault(finding) for finding in _few_of_each_list(findings)]

    def fault(self, finding: Finding) -> Fault:
        path = self._resolved(finding.path)
        is_set = any(path[: len(set_path)] == set_path for set_path in self.set_paths)
        file, line = ("--set", None) if is_set else (self.file, self.line(path))
        return Fault(file, line, self._label(path), finding.given, finding.allowed, finding.hint)

    def setting_fault(self, finding: Finding) -> Fault:
        return Fault("--set", None, str(finding.path[0]), finding.given, finding.allowed, finding.hint)

    def _resolved(self, path: KeyPath) -> KeyPath:
        """A path whose list entries may be named, by their places."""
        if path[:1] in (("sweep",), ("temperatures",), ("spread",)):
            return path
        try:
            return resolved(self.raw, tuple(str(key) for key in path))
        except QuantityError:
            return path

    def _label(self, path: KeyPath) -> str:
        if path[:1] == ("temperatures",):
            return ".".join(f'"{part}"' if "." in str(part) else str(part) for part in path)
        if path[:1] not in (("sweep",), ("spread",)) or len(path) == 1:
            return label(self.raw, path)
        key = ".".join(str(part) for part in path[1:] if isinstance(part, str))
        return f'{path[0]}."{key}"' + "".join(f"[{part}]" for part in path if isinstance(part, int))


def _few_of_each_list(findings: Iterable[Finding]) -> list[Finding]:
    """Findings, of a list's entries only the first few: a range may have thousands that are wrong alike."""
    told: list[Finding] = []
    wrong: Counter[KeyPath] = Counter()
    for finding in findings:
        *around, last = finding.path or ("",)
        if isinstance(last, int):
            wrong[tuple(around)] += 1
        if not isinstance(last, int) or wrong[tuple(around)] <= ENTRIES_TOLD:
            told.append(finding)
    more = [(path, count - ENTRIES_TOLD) for path, count in wrong.items() if count > ENTRIES_TOLD]
    return told + [
        Finding(path, f"and {count} more of its entries", "as said of the first ones") for path, count in more
    ]


def _file_text(path: Path) -> str:
    """The file's text; one plain fault where there is none to be had."""
    file = str(path)
    try:
        if not path.is_file():
            given = "is a directory" if path.is_dir() else "is no ordinary file" if path.exists() else "does not exist"
            raise StudyFaults([Fault(file, None, "", given, "a study file in TOML")])
        size = path.stat().st_size
        if size > LARGEST_FILE:
            given = f"is {size / 1e6:.3g} MB long"
            raise StudyFaults([Fault(file, None, "", given, f"at most {LARGEST_FILE / 1e6:g} MB")])
        # utf-8-sig: some editors put a byte-order mark before the text, which TOML does not know.
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        given = f"holds no UTF-8 text (byte {error.start})"
        raise StudyFaults([Fault(file, None, "", given, "a text file in UTF-8")]) from None
    except (OSError, ValueError) as error:
        if isinstance(error, StudyFaults):
            raise
        reason = getattr(error, "strerror", None) or "the name is not one a file can have"
        raise StudyFaults([Fault(file, None, "", f"cannot be read: {reason}", "a study file in TOML")]) from None


def _parsed(text: str, path: Path) -> Raw:
    too_deep = Fault(str(path), None, "", "is nested too deeply", "tables and lists as in the starter file")
    if _has_endless_key(text):
        raise StudyFaults([too_deep])
    try:
        raw = tomllib.loads(text)
    except RecursionError:
        raise StudyFaults([too_deep]) from None
    except ValueError as error:
        message = str(error)
        match = _ERROR_LINE.search(message)
        line = int(match[1]) if match else text.count("\n") + 1
        given = f"is not TOML: {_ERROR_LINE.sub('', message).strip()}"
        allowed = 'key = value, with texts in quotation marks, as in mean_diameter = "44 mm"'
        raise StudyFaults([Fault(str(path), line, "", given, allowed)]) from None
    if _is_too_deep(raw):
        raise StudyFaults([too_deep])
    return raw


def _has_endless_key(text: str) -> bool:
    """Whether a key has more dots than any of ours could: ``tomllib`` takes a time of their number squared for it."""
    parts = (part for line in text.split("\n") if line.count(".") > DEEPEST for part in _BETWEEN_KEYS.split(line))
    return any(part.partition("#")[0].count(".") > DEEPEST for part in parts)


def _is_too_deep(raw: Raw) -> bool:
    """Whether tables and lists lie within each other deeper than what looks at them should have to go."""
    level: list[object] = [raw]
    for _ in range(DEEPEST):
        level = [
            inner
            for node in level
            for inner in (node.values() if isinstance(node, dict) else node if isinstance(node, list) else ())
        ]
    return bool(level)


def _noted(whole: Raw, overrides: tuple[str, ...], path: Path) -> str:
    """The tables as TOML, with a note of what was set over the file."""
    lines = [f"# {path.name}, with these values set on the command line:"]
    lines += [f"#   {' '.join(override.split())}" for override in overrides]
    return "\n".join(lines) + "\n\n" + toml_text(whole)
