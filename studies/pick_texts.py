"""What a search says: the answer in a sentence, and a line for each pick."""

from collections.abc import Sequence

from studies.binding import binding, binding_line
from studies.findings import number
from studies.picking import Picked
from studies.stored import StoredDesign
from studies.swept import phrase, swept_axes


def pick_headlines(found: Picked) -> tuple[str, ...]:
    """The answer first, then what is to be known of it."""
    lines = [answer(found), *(_met_lines(found) if found.met else missed_lines(found.tried))]
    lines += [
        f"{stored.design} passed in the search and does not in full: {stored.failures[0].sentence}."
        for stored, quick in zip(found.run.designs, found.picks, strict=False)
        if quick.passed and stored.failures
    ]
    return tuple(lines)


def answer(found: Picked) -> str:
    """Best margin and least power of the picks; or that there is none."""
    done = sum(stored.status == "done" for stored in found.tried)
    searched = f"{len(found.tried)} of {found.space.count:,} candidates tried"
    if not done:
        why = found.tried[0].message if found.tried else ""
        return f"None of the {searched} could be computed: {why}."
    passing = [stored for stored in found.run.designs if stored.passed]
    if not passing:
        return f"None of the {searched} meets the requirements."
    most, least = passing[0], min(passing, key=lambda stored: number(stored, "input_power_W") or 0.0)
    if most is least:
        return f"Pick {named(found, most)}: {figures(most)}, at once the most margin and the least power; {searched}."
    return (
        f"Most margin: {named(found, most)}, {figures(most)}. "
        f"Least power: {named(found, least)}, {figures(least)}. {searched[0].upper()}{searched[1:]}."
    )


def _met_lines(found: Picked) -> list[str]:
    lines = [f"{stored.design}: {held_by(stored)}." for stored in found.run.designs if stored.passed]
    ends = sorted({key for quick in found.picks for key in found.at_ends(quick)})
    if ends:
        lines.append(f"Picks lie at an end of {', '.join(ends)}: a wider range may hold better ones.")
    return lines


def missed_lines(tried: Sequence[StoredDesign]) -> list[str]:
    """What binds where none passes, and how near any came; if each is met by some, the nearest with all it misses."""
    done = sorted((stored for stored in tried if stored.status == "done"), key=_missed_in_all)
    found = binding(done)
    if found is None:
        return []
    lines = [binding_line(found, len(done))]
    if found.kind == "met by some":
        near = done[0]
        missed = "; ".join(check.sentence for check in near.failures)
        lines.append(f"Each requirement is met by some, all together by none; nearest is {near.design}: {missed}.")
    return lines


def _missed_in_all(stored: StoredDesign) -> float:
    return sum(check.shortfall for check in stored.failures)


def held_by(stored: StoredDesign) -> str:
    """The requirement that a passing candidate meets with the least to spare."""
    tightest = min(stored.checks, key=lambda check: check.spare)
    if len(stored.checks) == 1 and (tightest.quantity, tightest.required) == ("read_height", 0.0):
        return "the study requires nothing of it but to be read somewhere"
    return f"closest to its limit is {tightest.sentence}"


def named(found: Picked, stored: StoredDesign) -> str:
    """A pick with its values."""
    return f"{stored.design} ({phrase(swept_axes(found.run.study), stored)})"


def figures(stored: StoredDesign) -> str:
    """Margin and power in words."""
    margin, power = number(stored, "margin_dB"), number(stored, "input_power_W")
    return f"{'no' if margin is None else f'{margin:.1f} dB'} margin at {0.0 if power is None else power:.3g} W"
