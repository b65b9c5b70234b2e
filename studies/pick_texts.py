"""What a search says: the answer in a sentence, and a line for each pick."""

from collections.abc import Sequence

from studies.findings import number
from studies.picking import Picked
from studies.stored import StoredDesign
from studies.swept import phrase, swept_axes
from studies.verdict import QUANTITIES, Check


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
    """What keeps all of them from passing: what none meets, and how near any came; else that all is not met at once."""
    done = [stored for stored in tried if stored.status == "done"]
    lines = []
    for number_, check in enumerate(done[0].checks if done else ()):
        checks = [stored.checks[number_] for stored in done]
        if not any(one.passed for one in checks):
            best = min(range(len(checks)), key=lambda place: checks[place].shortfall)
            lines.append(
                f"Binding: {check_label(check)} is met by none; {done[best].design} comes nearest with "
                f"{_value(checks[best])}{_short_of(checks[best])}."
            )
    if done and not lines:
        near = min(done, key=lambda stored: sum(check.shortfall for check in stored.failures))
        missed = "; ".join(check.sentence for check in near.failures)
        lines.append(f"Each requirement is met by some, all together by none; nearest is {near.design}: {missed}.")
    return lines


def check_label(check: Check) -> str:
    """A requirement in words: ``coil voltage at most 150 V``."""
    shown = QUANTITIES[check.quantity]
    words = "at least" if check.bound == "at_least" else "at most"
    return f"{shown.label} {words} {check.required * shown.factor:.3g} {shown.unit}"


def _value(check: Check) -> str:
    shown = QUANTITIES[check.quantity]
    return "none" if check.got is None else f"{check.got * shown.factor:.3g} {shown.unit}"


def _short_of(check: Check) -> str:
    shown = QUANTITIES[check.quantity]
    if check.got is None:
        return ""
    apart = abs(check.got - check.required) * shown.factor
    return f", {apart:.3g} {shown.unit} {'short' if check.bound == 'at_least' else 'too much'}"


def held_by(stored: StoredDesign) -> str:
    """The requirement that a passing candidate meets with the least to spare."""
    tightest = min(stored.checks, key=spare)
    return f"closest to its limit is {tightest.sentence}"


def spare(check: Check) -> float:
    """How far inside its limit a requirement is met, as `Check.shortfall` counts what is missed [1]."""
    if check.got is None:
        return -1.0
    if check.quantity == "margin":
        return float(1.0 - 10.0 ** ((check.required - check.got) / 20.0))
    if check.bound == "at_least":
        return 1.0 - check.required / check.got if check.got else -1.0
    return 1.0 - check.got / check.required if check.required else -1.0


def named(found: Picked, stored: StoredDesign) -> str:
    """A pick with its values."""
    return f"{stored.design} ({phrase(swept_axes(found.run.study), stored)})"


def figures(stored: StoredDesign) -> str:
    """Margin and power in words."""
    margin, power = number(stored, "margin_dB"), number(stored, "input_power_W")
    return f"{'no' if margin is None else f'{margin:.1f} dB'} margin at {0.0 if power is None else power:.3g} W"
