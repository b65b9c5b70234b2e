"""Which one requirement binds a whole study, and how far off it is."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from studies.stored import StoredDesign
from studies.verdict import Check

Kind = Literal["met by none", "met by some", "met by all"]


@dataclass(frozen=True, slots=True, eq=False)
class Binding:
    """The requirement that binds a study, as it stands of the candidate ``nearest`` to meeting it.

    Parameters
    ----------
    kind : str
        Whether no candidate meets it, some do or all.
    check : Check
        The requirement as ``nearest`` misses it; where all meet it, as the best of them does.
    nearest : StoredDesign
        Of the candidates that miss it the one that has to be helped least: where some would pass without it, one of
        them. Where all meet it, the best.
    stopped, freed : int
        Candidates that miss it, and those that miss it alone and so would pass without it.
    others : tuple of str
        Further requirements that no candidate meets, in words.
    """

    kind: Kind
    check: Check
    nearest: StoredDesign
    stopped: int
    freed: int
    others: tuple[str, ...] = ()


def binding(done: Sequence[StoredDesign]) -> Binding | None:
    """The requirement that binds a study.

    Parameters
    ----------
    done : sequence of StoredDesign
        Computed candidates, the best first.

    Returns
    -------
    Binding or None
        None where nothing is computed or required.

    Notes
    -----
    Of requirements that no candidate meets, the one of which the nearest candidate falls shortest: all else is vain
    before it is loosened. If there is none, that without which most more would pass; of equal ones that which is missed
    most often, then that of which the nearest falls shortest. Where all pass, the one that the best meets with the
    least to spare.
    """
    if not done or not done[0].checks:
        return None
    required = dict.fromkeys(check.label for stored in done for check in stored.checks)
    missed = [one for one in (_missed(done, label) for label in required) if one is not None]
    if not missed:
        tightest = min(done[0].checks, key=lambda check: check.spare)
        return Binding("met by all", tightest, done[0], 0, 0)
    hopeless = [one for one in missed if one.kind == "met by none"]
    if hopeless:
        first, *rest = sorted(hopeless, key=lambda one: -one.check.shortfall)
        others = tuple(one.check.label for one in rest)
        return Binding(first.kind, first.check, first.nearest, first.stopped, first.freed, others)
    return max(missed, key=lambda one: (one.freed, one.stopped, one.check.shortfall))


def _missed(done: Sequence[StoredDesign], label: str) -> Binding | None:
    """One requirement over all candidates; None where none misses it."""
    missing = [(stored, check) for stored in done for check in stored.failures if check.label == label]
    if not missing:
        return None
    alone = [(stored, check) for stored, check in missing if len(stored.failures) == 1]
    nearest, check = min(alone or missing, key=lambda one: one[1].shortfall)
    kind: Kind = "met by none" if len(missing) == len(done) else "met by some"
    return Binding(kind, check, nearest, len(missing), len(alone))


def binding_line(found: Binding, count: int) -> str:
    """What binds, in a sentence; ``count`` candidates are computed."""
    check, name = found.check, found.nearest.design
    if found.kind == "met by all":
        whose = "" if count == 1 else f" of the best, {name}"
        return f"Binding requirement{whose}: {check.label}, met with the least to spare{_told(check)}."
    if count == 1:
        return f"Binding requirement: {check.label}, missed the most{_told(check)}."
    if found.kind == "met by none":
        also = f" Met by none either: {'; '.join(found.others)}." if found.others else ""
        return (
            f"Binding requirement of the study: {check.label} is met by none of {count}; {name} comes nearest"
            f"{_told(check)}.{also}"
        )
    if not found.freed:
        return (
            f"Binding requirement of the study: {check.label}; {found.stopped} of {count} miss it, each of them "
            f"another one too; {name} comes nearest to it{_told(check)}."
        )
    return (
        f"Binding requirement of the study: {check.label}; without it {found.freed} more would pass, first of them "
        f"{name}{_told(check)}."
    )


def _told(check: Check) -> str:
    """The value met, how far from what is required, and where."""
    where = f" ({check.where})" if check.where else ""
    apart = f", {check.apart}" if check.apart else ""
    return f", {check.value}{apart}{where}"
