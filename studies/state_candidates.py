"""A candidate in all its states: as given, as the file names them, cold, and a spiral heater's ends both ways."""

from collections.abc import Iterator
from dataclasses import replace

from geometries.errors import GeometryError
from geometries.stack import RIBBON_KINDS, LayerKind
from studies.assembly import Particulars, assembled
from studies.faults import Finding
from studies.keypaths import Raw, label, removed, replaced, value_at
from studies.specification import AS_GIVEN, COLD, Candidate
from studies.states import NamedState, parts_with_temperature

ROOM = "20 degC"

RATING = ("rated_power", "rated_voltage")
"""What says how thick a ribbon is, at the temperature of the state as given."""

ENDS: dict[LayerKind, tuple[LayerKind, str]] = {
    "open spiral": ("shorted spiral", "ends joined"),
    "shorted spiral": ("open spiral", "ends open"),
}
"""The other kind of a spiral heater, and its name: the mains may join its ends or leave them open."""


def in_all_states(
    candidate: Candidate, raw: Raw, particulars: Particulars, states: tuple[NamedState, ...]
) -> Candidate:
    """A candidate with its other states.

    Parameters
    ----------
    candidate : Candidate
        As given, put together from ``raw`` and ``particulars``.
    raw : dict
        The tables it was put together from.
    particulars : Particulars
        What the tables do not say.
    states : tuple of NamedState
        Those that the file names.

    Raises
    ------
    GeometryError
        Where it cannot be put together in a state that the file names.

    Notes
    -----
    A cold state, every part at 20 °C, is added where the file names none, any part is warmer and no temperature is
    swept; where it cannot be computed, a ribbon being magnetic when cold, that is a warning. States that are alike
    stand once, and what was to be tuned in one that does not is tuned in the one it is like.
    """
    fixed = _with_thicknesses(raw, candidate)
    found = {AS_GIVEN: candidate}
    for state in states:
        other, findings = assembled(state.set_in(fixed), particulars)
        if other is None:
            fault = f"{label(raw, findings[0].path)}: {findings[0].sentence}"
            raise GeometryError(f"temperatures.{state.name}", fault)
        found[state.name] = other
    warnings: list[str] = []
    nothing_warm = False
    if COLD not in found and not any(path[-1:] == ("temperature",) for path in particulars.swept_paths):
        cold, findings = assembled(_cold(fixed, candidate), particulars)
        if cold is None:
            warnings.append(_left_out(raw, findings))
        elif _bare(cold) != _bare(candidate):
            found[COLD] = cold
        else:
            nothing_warm = True
    (first, *others), kept_as = _apart(found)
    if nothing_warm:
        kept_as[COLD] = first.state
    tuned_in = kept_as.get(candidate.tuned_in, first.state)
    if candidate.tuned_in not in kept_as:
        warnings.append(
            f"link.tuned_in: the design has no state {candidate.tuned_in}, so turns and capacitors are found in the "
            f"state {tuned_in}"
        )
    told = [f"state {one.state}: {text}" for one in others for text in one.warnings if text not in first.warnings]
    swept_kind = any(path[:1] == ("layers",) and path[-1] == "kind" for path in particulars.swept_paths)
    ends = (lambda _: ()) if swept_kind else _other_ends
    both_ways = [one for state in (first, *others) for one in (state, *ends(state))]
    vessels = () if candidate.puck is None else candidate.vessels  # they say how low the tag gets, in every state alike
    bare = [replace(one, design="", swept=(), vessels=vessels, assumptions=(), warnings=()) for one in both_ways[1:]]
    return replace(first, tuned_in=tuned_in, states=tuple(bare), warnings=(*first.warnings, *warnings, *told))


def _with_thicknesses(raw: Raw, candidate: Candidate) -> Raw:
    """The file with its ribbons as thick as their rating makes them in the state as given, whatever their heat."""
    layers = raw.get("layers")
    for i, table in enumerate(layers if isinstance(layers, list) else []):
        if isinstance(table, dict) and set(RATING) & set(table):
            for key in RATING:
                raw = removed(raw, ("layers", i, key))
            raw = replaced(raw, ("layers", i, "thickness"), f"{candidate.stack.layers[i].thickness!r} m")
    return raw


def _cold(raw: Raw, candidate: Candidate) -> Raw:
    """The file with all at room temperature: what it gives a temperature, and ribbons, which are else taken as hot."""
    for path in parts_with_temperature(raw):
        own = (*path, "temperature")
        if value_at(raw, own) is not None or _is_ribbon(path, candidate):
            raw = replaced(raw, own, ROOM)
    return raw


def _is_ribbon(path: tuple[str | int, ...], candidate: Candidate) -> bool:
    place = path[1] if len(path) == 2 and path[0] == "layers" else None
    return isinstance(place, int) and candidate.stack.layers[place].kind in RIBBON_KINDS


def _left_out(raw: Raw, findings: tuple[Finding, ...]) -> str:
    first = findings[0]
    return (
        f"{label(raw, first.path)}: the design is not judged cold, for in that state it cannot be computed: "
        f"{first.sentence}"
    )


def _bare(candidate: Candidate) -> Candidate:
    """What is solved and judged of it, without what is told of it."""
    return replace(candidate, warnings=(), assumptions=())


def _apart(found: dict[str, Candidate]) -> tuple[list[Candidate], dict[str, str]]:
    """States that differ, the one as given first, and the name under which each of those found stands.

    One that the file names gives its name to what is like it.
    """
    kept: dict[Candidate, Candidate] = {}
    each = {name: _bare(candidate) for name, candidate in found.items()}
    for name, candidate in found.items():
        alike = each[name]
        named = replace(candidate, state=name)
        if alike not in kept:
            kept[alike] = named
        elif kept[alike].state == AS_GIVEN and name != AS_GIVEN:
            kept[alike] = replace(kept[alike], state=name)
    return list(kept.values()), {name: kept[alike].state for name, alike in each.items()}


def _other_ends(candidate: Candidate) -> Iterator[Candidate]:
    """The state with every spiral heater's ends the other way."""
    layers = candidate.stack.layers
    words = dict.fromkeys(ENDS[layer.kind][1] for layer in layers if layer.kind in ENDS)
    if words:
        flipped = tuple(replace(one, kind=ENDS[one.kind][0]) if one.kind in ENDS else one for one in layers)
        name = f"{candidate.state}, {' and '.join(words)}"
        yield replace(candidate, state=name, stack=replace(candidate.stack, layers=flipped))
