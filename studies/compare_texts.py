"""A comparison in sentences, and as an object for another program."""

from math import isfinite, log10
from typing import Any

import numpy as np

from links.cautions import CALCULATION_ONLY
from studies.asked_places import reference_places
from studies.compared import Side
from studies.comparing import AtPlace, Comparison, Pair, error_in_decibels, ladder_steps
from studies.engineering import place_text
from studies.findings import number
from studies.hazards import candidate_cautions
from studies.ladder import STEPS
from studies.study_differences import Difference

NAMED = 3
"""Values or designs named in one sentence."""

SEEN = 0.005
"""A change that would be printed as 0.00 [dB]."""


def headline(found: Comparison, pair: Pair) -> str:
    """What differs, and what it costs."""
    return f"{_what_differs(found)} {_cost(found, pair)}"


def supporting(found: Comparison, pair: Pair) -> tuple[str, ...]:
    """What else a reviewer has to know of one side against the reference, most important first."""
    lines = [] if found.same else [_coupling(found, pair)]
    lines.append(_verdicts(found, pair))
    return (*(line for line in lines if line), *doubts(found))


def doubts(found: Comparison) -> tuple[str, ...]:
    """Reasons to believe the comparison less."""
    lines = [
        f"The run of {side.letter} is incomplete: {len(side.run.designs)} of {side.run.study.count} designs are "
        "stored; another may be its best."
        for side in found.sides
        if not side.complete
    ]
    if len({side.physics for side in found.sides}) > 1:
        versions = ", ".join(f"{side.letter} {side.physics or 'unknown'}" for side in found.sides)
        lines.append(
            f"Computed with different versions of the physics ({versions}): part of what differs may come from that. "
            "`trivet run` computes the older ones again."
        )
    if found.same_studies and not found.same:
        lines.append("The studies say the same, yet stored numbers differ: the runs were made with different code.")
    if len({side.candidate.link.mode for side in found.sides}) > 1:
        lines.append("Half-duplex and full-duplex margins are not of one kind: compare the coupling.")
    if not same_grids(found):
        lines.append(grids_text(found))
    return tuple(lines)


def same_grids(found: Comparison) -> bool:
    """Whether all maps have the same places."""
    return all(side.grid == found.sides[0].grid for side in found.sides)


def grids_text(found: Comparison) -> str:
    """That maps have other places, and what then is compared."""
    return "The maps have different places: they are compared on their common part, interpolated between their places."


def _what_differs(found: Comparison) -> str:
    if found.same:
        return "The designs are the same: no value of their studies differs, and no stored number does."
    if found.same_studies:
        return "No value of the studies differs."
    designs = [one for one in found.differences if one.kind == "design"]
    asked = [one for one in found.differences if one.kind == "question"]
    if not designs:
        what = "assumed values" if not asked else f"what is asked ({_names(asked)})"
        return f"The designs are the same; only {what} differ{'s' if asked else ''}."
    also = f" What is asked differs too: {_names(asked)}." if asked else ""
    if len(designs) == 1:
        values = " against ".join(designs[0].values)
        return f"One value differs, {designs[0].key}: {values}.{also}"
    return f"{len(designs)} values differ: {_names(designs)}.{also}"


def _names(some: list[Difference]) -> str:
    more = len(some) - NAMED
    return ", ".join(one.key for one in some[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _cost(found: Comparison, pair: Pair) -> str:
    if found.same:
        return "There is no loss."
    reference, other = found.sides[0], found.sides[pair.other]
    if pair.margin_change is None:
        return f"The margins of {reference.letter} and {other.letter} cannot be set against each other."
    levels = f"{_margin(reference)} in {reference.letter}, {_margin(other)} in {other.letter}"
    if set(reference_places(reference.candidate)) != set(reference_places(other.candidate)):
        return f"They ask for other places: margin at the worst place of each, {levels}; {_at_the_same(found, pair)}."
    if abs(pair.margin_change) < SEEN:
        return f"Margin at the worst place: no loss that could be told, {levels}."
    verb = "loses" if pair.margin_change < 0.0 else "gains"
    return f"{other.letter} {verb} {abs(pair.margin_change):.2f} dB of margin at the worst place: {levels}."


def _at_the_same(found: Comparison, pair: Pair) -> str:
    """What of a change in margin is left where both are looked at in the same places."""
    changes = [place_change(at, pair) for at in found.places]
    margins = [change[1] for change in changes if change is not None and change[1] is not None]
    if not margins:
        return "no place that either asks for is in both maps"
    if max(map(abs, margins)) < SEEN:
        return "at the same places no loss could be told"
    ends = " to ".join(dict.fromkeys((signed(min(margins)), signed(max(margins)))))
    return f"at the same places {found.sides[pair.other].letter} changes by {ends}"


def _margin(side: Side) -> str:
    return signed(number(side.stored, "margin_dB"), 2, plus="")


def signed(value: float | None, digits: int = 2, plus: str = "+") -> str:
    """Decibels with their sign."""
    if value is None or not isfinite(value):
        return "none"
    text = f"{0.0 if abs(value) < 0.5 * 10.0**-digits else value:{plus}.{digits}f}".replace("-", "−")
    return f"{text} dB"


def percent(value: float | None) -> str:
    """A coupling coefficient."""
    return "none" if value is None else f"{100.0 * value:.4g} %"


def _coupling(found: Comparison, pair: Pair) -> str:
    reference, other = found.sides[0], found.sides[pair.other]
    levels = [percent(number(side.stored, "coupling_coefficient")) for side in (reference, other)]
    if pair.coupling_change is None:
        return f"Coupling at the worst place: {levels[0]} against {levels[1]}."
    places = [str(side.stored.row.get("worst_place", "")) for side in (reference, other)]
    at = places[0] if places[0] == places[1] else f"{places[0]} against {places[1]}"
    said = "no more than" if pair.within_error else "beyond"
    verdict = "not to be told from no change" if pair.within_error else "a change to believe as far as the model goes"
    if places[0] != places[1]:
        verdict = "though of two places"
    return (
        f"Coupling at the worst place ({at}): {levels[0]} against {levels[1]}, {signed(pair.coupling_change, 3)}; "
        f"that is {said} the estimated errors of both together (±{pair.coupling_error:.2g} dB), {verdict}."
        f"{_spread_text(pair)}"
    )


def _spread_text(pair: Pair) -> str:
    """What is left out of the errors, for it is the same in both."""
    if pair.spread == 0.0:
        return ""
    return (
        f" What the data sheet leaves open of the tag (±{100.0 * pair.spread:.0f} %) is the same in both and left out."
    )


def _verdicts(found: Comparison, pair: Pair) -> str:
    reference, other = found.sides[0], found.sides[pair.other]
    if not pair.common:
        return f"No design of {other.letter} has the swept values of one of {reference.letter}: no verdicts to compare."
    some = f"{pair.common} design{'s' if pair.common > 1 else ''} common to both runs"
    if not pair.gained and not pair.lost:
        return f"No verdict changes, of {some}."
    parts = [
        f"{len(names)} {word} ({pair_names(names)})"
        for word, names in (("lost", pair.lost), ("gained", pair.gained))
        if names
    ]
    return f"Verdicts in {other.letter}, of {some}: {', '.join(parts)}."


def pair_names(names: tuple[tuple[str, str], ...]) -> str:
    """Designs by their two names, the first few."""
    told = [one if one == two else f"{one} is {two}" for one, two in names[:NAMED]]
    more = len(names) - NAMED
    return ", ".join(told) + (f" and {more} more" if more > 0 else "")


def verdict_word(side: Side) -> str:
    """Whether the design meets what its study requires."""
    return "meets the requirements" if side.stored.passed else "misses requirements"


def comparison_lines(found: Comparison) -> list[str]:
    """The comparison for a terminal."""
    lines = [_side_line(side) for side in found.sides]
    for pair in found.pairs:
        lines.append(headline(found, pair))
    for pair in found.pairs:
        lines += [line for line in supporting(found, pair) if line not in lines]
    lines += [f"  {one.key}: {' | '.join(one.values)}" for one in found.differences if one.kind != "follows"]
    follows = sum(one.kind == "follows" for one in found.differences)
    if follows:
        lines.append(f"  and {follows} assumed value{'s' if follows > 1 else ''} that no file gives")
    if not found.same:
        lines.append("  At the places asked for, interpolated in the maps, the lean the worst way:")
        lines += [_place_line(found, place) for place in found.places]
    return lines


def _side_line(side: Side) -> str:
    known = f"run {side.stands}; physics {side.physics or 'unknown'}"
    return f"{side.letter}  {side.name}: {verdict_word(side)}; {known}; {side.given}"


def _place_line(found: Comparison, at: AtPlace) -> str:
    parts = []
    for pair in found.pairs:
        change = place_change(at, pair)
        letter = found.sides[pair.other].letter
        if change is None:
            parts.append(f"{letter} not mapped there")
        else:
            coupling, margin, error = change
            parts.append(f"{letter} margin {signed(margin)}, k {signed(coupling)} (±{error:.2g} dB)")
    return f"  at {place_text(at.place)}: {'; '.join(parts)}"


def place_change(at: AtPlace, pair: Pair) -> tuple[float | None, float | None, float] | None:
    """Change of k and of margin at a place, and the estimated error of the former [dB]; None off either map."""
    ours, theirs = at.of(0), at.of(pair.other)
    if ours is None or theirs is None:
        return None
    relative = np.maximum(np.array([ours.error, theirs.error]) - pair.spread, 0.0)
    error = float(error_in_decibels(relative).sum())
    both = min(ours.coupling, theirs.coupling) > 0.0 and isfinite(error)
    coupling = 20.0 * log10(theirs.coupling / ours.coupling) if both else None
    told = isfinite(ours.margin) and isfinite(theirs.margin)
    return coupling, theirs.margin - ours.margin if told else None, error


def all_cautions(found: Comparison) -> tuple[str, ...]:
    """Those that the greatest figures of the designs call for, each once; that it is a calculation comes last."""
    rows = [side.stored.row for side in found.sides]
    told = dict.fromkeys(text for side in found.sides for text in candidate_cautions(side.candidate, rows))
    return (*(text for text in told if text != CALCULATION_ONLY), CALCULATION_ONLY)


def comparison_json(found: Comparison) -> dict[str, Any]:
    """The comparison for another program; levels and changes in dB, lengths in m, angles in rad, k of 1."""
    return {
        "same": found.same,
        "answers": [headline(found, pair) for pair in found.pairs],
        "doubts": list(doubts(found)),
        "cautions": list(all_cautions(found)),
        "sides": [_side_json(side) for side in found.sides],
        "differences": [{"key": one.key, "kind": one.kind, "values": list(one.values)} for one in found.differences],
        "places": [_place_json(found, at) for at in found.places],
        "pairs": [_pair_json(found, pair) for pair in found.pairs],
        "same_grids": same_grids(found),
    }


def _side_json(side: Side) -> dict[str, Any]:
    row = side.stored.row
    names = (
        "worst_place", "worst_state", "coupling_coefficient", "coupling_coefficient_rel_error", "mutual_inductance_H",
        "mutual_inductance_rel_error", "margin_dB", "chip_voltage_V", "base_inductance_H", "base_resistance_ohm",
        "coil_voltage_V", "base_current_A", "input_power_W", "required_read_height_m",
    )  # fmt: skip
    return {
        "letter": side.letter,
        "run": side.given,
        "study": side.run.study.name,
        "design": side.stored.design,
        "passed": side.stored.passed,
        "misses": [check.sentence for check in side.stored.failures],
        "complete": side.complete,
        "stored": len(side.run.designs),
        "designs": side.run.study.count,
        "physics_version": side.physics,
        **{name: finite(row.get(name)) for name in names},
    }


def finite(value: Any) -> Any:
    """JSON has no infinity and no not-a-number: null."""
    return None if isinstance(value, float) and not isfinite(value) else value


def _place_json(found: Comparison, at: AtPlace) -> dict[str, Any]:
    changes = []
    for pair in found.pairs:
        coupling, margin, error = place_change(at, pair) or (None, None, None)
        changes.append(
            {"side": found.sides[pair.other].letter, "coupling_change_dB": finite(coupling),
             "margin_change_dB": finite(margin), "coupling_error_dB": finite(error)}
        )  # fmt: skip
    return {
        "height_m": at.place.height,
        "offset_m": at.place.offset,
        "tilt_rad": at.place.tilt,
        "coupling_coefficient": [None if one is None else finite(one.coupling) for one in at.levels],
        "margin_dB": [None if one is None else finite(one.margin) for one in at.levels],
        "changes": changes,
    }


def _pair_json(found: Comparison, pair: Pair) -> dict[str, Any]:
    reference, other = found.sides[0], found.sides[pair.other]
    ours, theirs = ladder_steps(reference), ladder_steps(other)
    return {
        "reference": reference.letter,
        "side": other.letter,
        "margin_change_dB": finite(pair.margin_change),
        "coupling_change_dB": finite(pair.coupling_change),
        "coupling_error_dB": finite(pair.coupling_error),
        "spread_in_common": pair.spread,
        "within_error": pair.within_error,
        "designs_in_common": pair.common,
        "verdicts_gained": [list(names) for names in pair.gained],
        "verdicts_lost": [list(names) for names in pair.lost],
        "ladder_change_dB": {f"{s}": theirs[s] - ours[s] for s, _ in STEPS if s in ours and s in theirs},
    }
