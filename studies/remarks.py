"""What a designer should know of a candidate beyond its numbers."""

from math import log

from fem.wire_losses import proximity_note
from geometries.constants import MAGNETIC_CONSTANT
from geometries.packing import COMFORTABLE_SHARE, packing_share
from geometries.wire import Wire
from links.drive import drive_notes
from studies.linking import Profile
from studies.neighbour_columns import neighbour_remarks
from studies.rows import Row, number
from studies.solving import SolvedBase, SolvedCoils
from studies.specification import Candidate
from studies.tuning import tuning_remarks
from studies.wire_limits import wire_remarks

LARGEST_MISS = 0.02
"""Share of a wanted inductance by which whole turns may miss it without a word: a good capacitor's tolerance."""

LOOSE_SHARE = 0.35
"""Part of square packing below which a section says little of where its turns lie: half as close as is comfortable."""


def remarks(candidate: Candidate, coils: SolvedCoils, row: Row, lines: tuple[Profile, ...]) -> tuple[str, ...]:
    """What a designer should know of a candidate beyond its numbers, the key it hangs on first."""
    wire, base = candidate.coil.wire, coils.base
    found = list(candidate.warnings) + list(drive_notes(candidate.drive.bridge, candidate.link.tuning))
    note = proximity_note(wire.diameter, candidate.frequency, wire.conductivity)
    if note:
        found.append(f"base_coil.wire: {note}")
    found += _loose(base, wire)
    if base.self_resonance < 3.0 * candidate.frequency:
        found.append(
            f"base_coil: the self-resonance estimate, {base.self_resonance / 1e3:.3g} kHz, is below three times the "
            "working frequency: inductance and tuning as seen at the terminals will differ"
        )
    wanted = candidate.coil.inductance
    if wanted is not None and abs(base.inductance / wanted - 1.0) > LARGEST_MISS:
        found.append(
            f"base_coil.inductance: {base.turns} turns give {base.inductance * 1e6:.4g} µH where {wanted * 1e6:.4g} µH "
            "was asked for; whole turns come no nearer, and the reader may not take it"
        )
    voltage = number(row, "coil_voltage_V")
    found += wire_remarks(candidate, voltage, row)
    found += tuning_remarks(candidate, coils)
    if row["drive_limited"]:
        found.append("drive.current_limit: the drive stage holds the current back to its limit")
    found += [_lost_below(line) for line in lines if not line.window.starts_at_begin and line.window.lower is not None]
    if any(line.window.gaps for line in lines):
        found.append("the tag is lost at some heights below its read height: see the margin against height")
    if coils.tag.spread:
        found.append(
            "tag.part: a data sheet leaves the construction open; "
            f"M and k may be {100 * coils.tag.spread:.2g} % off by it, and the wire's losses beyond its DC resistance "
            "are left out: the tag's Q is an upper bound"
        )
    if not candidate.require.places:
        found.append(f"require.places: none is given, so the read height is also looked for {lines[-1].label}")
    found += neighbour_remarks(candidate, row)
    found += _hollow(candidate)
    return tuple(found)


def _lost_below(line: Profile) -> str:
    lower = line.window.lower or 0.0
    return (
        f"{line.label}, the tag is read only from {lower * 1e3:.3g} mm up: below, it is coupled so tightly "
        "that the chip voltage falls"
    )


def _loose(base: SolvedBase, wire: Wire) -> list[str]:
    """A section far larger than its turns need: how much it matters whether they lie spread over it or together.

    A bunch of the same shape and an area smaller by a factor c has a mean distance smaller by √c, so that L is more by
    μ0 N² a ln(c)/2; the square of its own field, and the proximity loss with it, is c times as large.
    """
    share = packing_share(base.section, base.turns, wire.overall_diameter)
    if share >= LOOSE_SHARE:
        return []
    closer = COMFORTABLE_SHARE / share
    added = 0.5 * MAGNETIC_CONSTANT * base.turns**2 * base.section.mean_radius * log(closer)
    lost = base.winding.proximity * (closer - 1.0)
    return [
        f"base_coil: its turns need {100.0 * share / COMFORTABLE_SHARE:.2g} % of the section and are taken to lie "
        f"spread evenly over it; wound together they would have about {100.0 * added / base.inductance:.2g} % more "
        f"inductance and {100.0 * lost / base.resistance:.2g} % more resistance: give the section that they fill"
    ]


def _hollow(candidate: Candidate) -> list[str]:
    """Conductors with a hole that the tag's offsets reach across: the correction is solved over the hole only."""
    reach = max([*candidate.grid.offsets, *(place.offset for place in candidate.require.places)])
    holes = {f"layers.{layer.name}": layer.inner_radius for layer in candidate.stack.layers if layer.conductivity}
    holes |= {
        f"solids.{solid.name}": min(r for r, _ in solid.outline)
        for solid in candidate.stack.solids
        if solid.conductivity or solid.material.magnetic
    }
    return [
        f"{key}: what it does to the tag is solved on the axis, over its hole; {reach * 1e3:.3g} mm off the axis "
        "the tag may lie over the conductor itself, and its detuning there is not covered by the stated error"
        for key, radius in holes.items()
        if 0.0 < radius < reach
    ]
