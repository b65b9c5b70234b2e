"""What a run says: which candidates meet the requirements, and which limit stops the best of the others."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, log10

from studies.binding import Binding, binding, binding_line
from studies.rows import AnyRow
from studies.specification import AS_GIVEN
from studies.stored import Run, StoredDesign
from studies.swept import SweptAxis, phrase, swept_axes
from studies.verdict import Check

MARGIN_STEP = 0.1
"""Margins closer than this [dB] count as equal, and the lower input power decides."""

NAMED = 3
"""Candidates named in one sentence."""


@dataclass(frozen=True, slots=True)
class Reason:
    """A requirement over the whole run, in words: ``coil voltage at most 300 V``.

    ``missed`` candidates do not meet it; of ``stopped`` ones it is what they miss by the most.
    """

    quantity: str
    label: str
    missed: int
    stopped: int


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """A run in short.

    Parameters
    ----------
    count, stored : int
        Candidates of the study, and those computed or failed so far.
    required : bool
        Whether the study requires anything; if not, a candidate passes that reads its tag at some height.
    axes : tuple of SweptAxis
        What is swept.
    passing : tuple of StoredDesign
        Best first: most margin to `MARGIN_STEP`, then least input power.
    failing : tuple of StoredDesign
        Computed, but missing a requirement; nearest to passing first.
    failed : tuple of StoredDesign
        Not computed.
    doubtful : tuple of StoredDesign
        Passing ones whose margin clears what is required by less than its estimated error.
    reasons : tuple of Reason
        Requirements that are missed, most often stopping first.
    binding : Binding or None
        The one requirement that binds the study; None where nothing is required or computed.
    """

    count: int
    stored: int
    required: bool
    axes: tuple[SweptAxis, ...]
    passing: tuple[StoredDesign, ...]
    failing: tuple[StoredDesign, ...]
    failed: tuple[StoredDesign, ...]
    doubtful: tuple[StoredDesign, ...]
    reasons: tuple[Reason, ...]
    binding: Binding | None

    @property
    def best(self) -> StoredDesign | None:
        """Best passing candidate, or the nearest of the failing ones; None where none was computed."""
        return next(iter((*self.passing, *self.failing)), None)

    @property
    def best_other(self) -> StoredDesign | None:
        """The nearest to passing of those that do not pass."""
        return self.failing[0] if self.failing else None

    def named(self, stored: StoredDesign) -> str:
        """A candidate with its swept values: ``c0023 (mean diameter 54 mm, 64 turns)``."""
        values = phrase(self.axes, stored)
        return f"{stored.design} ({values})" if values else stored.design


def findings(run: Run) -> Findings:
    """Sort a run's candidates and count what stops them.

    Parameters
    ----------
    run : Run
        Complete or not.

    Returns
    -------
    Findings
    """
    passing = sorted((d for d in run.designs if d.passed), key=_merit)
    failing = sorted((d for d in run.designs if d.status == "done" and not d.passed), key=_distance)
    require = run.study.base.require
    required = bool(require.places or require.at_least or require.at_most)
    return Findings(
        count=run.study.count,
        stored=len(run.designs),
        required=required,
        axes=swept_axes(run.study),
        passing=tuple(passing),
        failing=tuple(failing),
        failed=tuple(d for d in run.designs if d.status == "failed"),
        doubtful=tuple(d for d in passing if _is_doubtful(d)),
        reasons=_reasons(failing),
        binding=binding((*passing, *failing)) if required else None,
    )


def number(stored: StoredDesign, name: str) -> float | None:
    """A number of a candidate's row; None where the row has none."""
    value = stored.row.get(name)
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None


def margin_error(stored: StoredDesign) -> float:
    """How far the margin may be off downward by the estimated error of M, a stock part's spread included [dB].

    Notes
    -----
    −20 log10(1 − ε): the chip voltage goes with M below critical coupling, where margins are short. The stored error
    of M contains the spread of a stock part already.
    """
    share = number(stored, "mutual_inductance_rel_error") or 0.0
    return -20.0 * log10(1.0 - share) if share < 1.0 else inf


def _merit(stored: StoredDesign) -> tuple[float, float, int]:
    margin = number(stored, "margin_dB")
    steps = -inf if margin is None or margin == -inf else round(margin / MARGIN_STEP)
    return -steps, number(stored, "input_power_W") or 0.0, stored.index


def _distance(stored: StoredDesign) -> tuple[float, int, float, int]:
    failures = stored.failures
    margin = number(stored, "margin_dB")
    return failures[0].shortfall, len(failures), -(-inf if margin is None else margin), stored.index


def _is_doubtful(stored: StoredDesign) -> bool:
    return any(
        check.quantity == "margin" and check.got is not None and check.got - margin_error(stored) < check.required
        for check in stored.checks
    )


def _reasons(failing: list[StoredDesign]) -> tuple[Reason, ...]:
    def key(check: Check) -> tuple[str, str]:
        return check.quantity, check.label

    missed = Counter(key(check) for stored in failing for check in stored.failures)
    stopped = Counter(key(stored.failures[0]) for stored in failing)
    found = [Reason(*one, missed=times, stopped=stopped[one]) for one, times in missed.items()]
    return tuple(sorted(found, key=lambda reason: (-reason.stopped, -reason.missed, reason.label)))


def headlines(found: Findings) -> tuple[str, ...]:
    """The decision in a few sentences of plain text, most important first."""
    lines = [_one_design(found) if found.count == 1 else _answer(found)]
    if found.count > 1 and found.best_other is not None:
        lines.append(_obstacle(found, found.best_other))
    if found.binding is not None:
        lines.append(binding_line(found.binding, len(found.passing) + len(found.failing)))
    if len(found.failing) > 1 and found.reasons:
        stops = ", ".join(f"{reason.label} stops {reason.stopped}" for reason in found.reasons if reason.stopped)
        lines.append(f"Of the {len(found.failing)} that do not: {stops}.")
    if found.best is not None and found.best.row.get("vessels_failed"):
        lines.append(_vessels(found.best))
    if found.doubtful:
        names = _listed([stored.design for stored in found.doubtful])
        lines.append(f"Within the estimated error of the margin and so not sure to pass: {names}.")
    if found.failed and found.count > 1:
        few = [f"{stored.design} ({stored.message})" for stored in found.failed[:NAMED]]
        more = len(found.failed) - len(few)
        lines.append(f"Not computed: {'; '.join(few)}{f'; and {more} more' if more else ''}.")
    if found.stored < found.count:
        lines.append(f"{found.stored} of {found.count} candidates are stored so far; the run can be carried on.")
    return tuple(lines)


def _answer(found: Findings) -> str:
    done = len(found.passing) + len(found.failing)
    if not done:
        return "No candidate could be computed." if found.failed else "No candidate is computed yet."
    total = done + len(found.failed)
    passing, some = len(found.passing), f"candidate{'' if total == 1 else 's'}"
    if found.required:
        what = "meet the requirements" if passing > 1 else "meets the requirements"
    else:
        what = f"{'read' if passing > 1 else 'reads'} the tag at some height (the study requires nothing)"
    if not found.passing:
        return f"None of {total} {some} {what}."
    best = found.passing[0]
    return f"{passing} of {total} {some} {what}; best: {found.named(best)}, {figures_of(best)}."


def _vessels(best: StoredDesign) -> str:
    """In which vessels the best candidate does not do what it has to."""
    row = best.row
    failed, count = int(number(best, "vessels") or 0) - int(number(best, "vessels_passed") or 0), row["vessels"]
    return (
        f"In {failed} of {count} vessels the tag of {best.design} is not read while held, not lost at the wall, or not "
        f"in at all: {row['vessels_failed']} (vessels.csv says why)."
    )


def _one_design(found: Findings) -> str:
    if found.best is None:
        return f"The design could not be computed: {found.failed[0].message}." if found.failed else "Not computed yet."
    best, failures = found.best, found.best.failures
    if not found.required:
        reads = "reads the tag" if best.passed else "does not read the tag at all"
        return f"The design {reads}: {figures_of(best)}. The study requires nothing more."
    if best.passed:
        return f"The design meets the requirements: {figures_of(best)}."
    return f"The design does not meet the requirements: {'; '.join(c.sentence for c in failures)}."


def _obstacle(found: Findings, stored: StoredDesign) -> str:
    who = "the best of the others" if found.passing else "the nearest to them"
    if not found.required:
        return f"The tag is not read at all in {_listed([d.design for d in found.failing])}."
    more = len(stored.failures) - 1
    rest = f", and {more} more requirement{'s' if more > 1 else ''} missed" if more else ""
    return f"What stops {who}, {found.named(stored)}: {stored.failures[0].sentence}{rest}."


def figures_of(stored: StoredDesign) -> str:
    """Margin and read height of a candidate in words."""
    margin, reach = number(stored, "margin_dB"), number(stored, "required_read_height_m")
    first = "no margin" if margin is None else f"margin {margin:.1f} dB at {stored.row.get('worst_place', '')}"
    if reach is None:
        return first
    beyond = "at least " if stored.row.get("read_height_beyond_ceiling") else ""
    return f"{first}, read up to {beyond}{reach * 1e3:.3g} mm ({stored.row.get('required_line', '')})"


def worst_words(stored: StoredDesign) -> str:
    """The worst of the places asked for, its state and its margin: ``worst place asked for: 7.7 dB at …, cold``."""
    margin, place = number(stored, "margin_dB"), stored.row.get("worst_place")
    if margin is None or not place:
        return ""
    state = str(stored.row.get("worst_state") or "")
    return f"worst place asked for: {margin:.1f} dB at {place}{_in_state(state)}".replace("-", "−")


def worst_state_of_reach(stored: StoredDesign, states: Sequence[AnyRow]) -> str:
    """The state in which the tag is read the least high on the worst line; empty where there is one only."""
    known = [(row.get("required_read_height_m"), str(row.get("state", ""))) for row in states]
    if len(known) < 2:
        return ""
    lost = [state for height, state in known if not isinstance(height, float)]
    return lost[0] if lost else min((float(height), state) for height, state in known if isinstance(height, float))[1]


def _in_state(state: str) -> str:
    return "" if state in ("", AS_GIVEN) else f", {state}"


def _listed(names: list[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names[:NAMED]) + (f" and {more} more" if more > 0 else "")
