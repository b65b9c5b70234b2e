"""What a draw of units says, in sentences."""

from studies.spread import CAPACITORS, CUT
from studies.verdict import QUANTITIES
from studies.yields import CONFIDENCE, Batch, Share, Yield, Yields


def yield_headlines(found: Yields) -> tuple[str, ...]:
    """The yield first, then what is missed and what costs the most."""
    lines = [
        f"{share_text(found.fitted.found)} of units of {found.design} meet the requirements as fitted, "
        f"{share_text(found.retuned.found)} with the base coil tuned on each."
    ]
    for name, batch in (("As fitted", found.fitted), ("Retuned", found.retuned)):
        if batch.missed:
            said = "; ".join(f"{one.label}: {one.count} of {batch.found.count}" for one in batch.missed)
            lines.append(f"{name}, missed: {said}.")
        if (costs := costliest(batch)) is not None:
            quantity = QUANTITIES[batch.telling].label
            lines.append(
                f"{name}, what moves the {quantity} most: {costs.spread.text}, {percent(costs.first)} of its variance "
                f"(± {percent(costs.error)})."
            )
    return tuple(lines)


def costliest(batch: Batch) -> Share | None:
    """The spread that brings about the most of what matters; None where that is not known."""
    return max(batch.shares.get(batch.telling, ()), key=lambda one: one.first, default=None)


def share_text(found: Yield) -> str:
    """A yield with its interval: ``86 % (80 to 91 %)``."""
    return f"{percent(found.share)} ({100.0 * found.low:.0f} to {percent(found.high)})"


def percent(share: float) -> str:
    """A share as text."""
    return f"{100.0 * share:.0f} %"


def yield_notes(found: Yields, seed: int) -> tuple[str, ...]:
    """What the figures rest on."""
    count = found.fitted.found.count
    keys = [spread.key for spread in found.units.spreads]
    notes = [
        f"{count} units drawn one by one, each value independent of all others (seed {seed}); each unit solved and "
        "judged in every state, as a design is. A unit that cannot be built counts as missing what is required.",
        f"In brackets: where the true share lies with {100.0 * CONFIDENCE:.0f} % confidence (Clopper and Pearson's "
        "exact interval). More units narrow it.",
        f"A normal distribution is cut at {CUT:g} standard deviations.",
        "As fitted: both capacitors are those of the design, off by what is drawn. Retuned: the base coil is tuned "
        "exactly on each unit; the tag's capacitor stays as fitted.",
        "Shares of variance are those of each spread by itself, by random-balance designs (SALib); what they leave of "
        "100 % comes of spreads acting together, or is the error of so few units.",
    ]
    missing = [key for key in CAPACITORS if key not in keys]
    if missing:
        notes.append(f"Without a spread, and so exactly as in the design: {', '.join(missing)}.")
    failed = [one for one in found.fitted.units if one.status == "failed"]
    if failed:
        notes.append(f"{len(failed)} units could not be built or computed, as {failed[0].design}: {failed[0].message}.")
    return tuple(notes)
