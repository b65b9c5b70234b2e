"""Whether a unit can be drawn from every spread: its ends and a value between, tried in the base design."""

from collections.abc import Iterator
from math import ceil

import numpy as np

from studies.assembly import sound_tables
from studies.faults import Finding
from studies.keypaths import Raw, label, replaced, value_at
from studies.quantities import QuantityError, read_quantity, shortened
from studies.spread import PLACES, Spread, value_of
from studies.sweep import Axis, BaseDesign, with_value

TRIED = np.array([-1.0, -0.38, 1.0])
"""Shares of a spread's reach that are tried: both ends, and one that is no round number."""

MOST_DESIGNS = 40
"""Of a swept key so many values are tried, spread over it."""


def spread_findings(spreads: tuple[Spread, ...], axes: tuple[Axis, ...], base: BaseDesign) -> tuple[Finding, ...]:
    """What is wrong with units as they would be drawn, told at the spread: the first of each."""
    known = frozenset(base.findings)
    swept = {axis.path: axis for axis in axes}
    return tuple(finding for one in spreads for finding in _first(one, swept.get(one.path), base, known))


def _first(spread: Spread, axis: Axis | None, base: BaseDesign, known: frozenset[Finding]) -> Iterator[Finding]:
    for drawn, tables in _drawn(spread, axis, base):
        _, found = sound_tables(tables, base.particulars.swept_paths)
        new = next((finding for finding in found if finding not in known), None)
        if new is not None:
            clause = f"draws {shortened(drawn)} as {label(tables, new.path)}: {new.given}"
            yield Finding(spread.place, clause, f"{new.allowed}, in every unit drawn")
            return


def _drawn(spread: Spread, axis: Axis | None, base: BaseDesign) -> Iterator[tuple[object, Raw]]:
    """Values drawn, each with the tables that hold it."""
    if spread.key in PLACES:
        yield from _shifted(spread, base.filled)
    elif spread.path:
        designs = (value_at(base.filled, spread.path),) if axis is None else axis.given
        for design in designs[:: ceil(len(designs) / MOST_DESIGNS)]:
            try:
                value_of(design)
            except QuantityError:
                continue  # a swept value that is none is told at its axis
            for value in spread.values_off(design, spread.reach * TRIED):
                yield value, with_value(base.filled, spread.path, value)


def _shifted(spread: Spread, raw: Raw) -> Iterator[tuple[object, Raw]]:
    name = spread.key.partition(".")[2]
    places = value_at(raw, ("require", "places"))
    for number, place in enumerate(places if isinstance(places, list) else []):
        own = place.get(name) if isinstance(place, dict) else None
        try:
            read_quantity(own, PLACES[spread.key])
        except QuantityError:
            continue  # told at the place itself
        for value in spread.shifted_off(own, spread.reach * TRIED, PLACES[spread.key], signed=name == "height"):
            yield value, replaced(raw, ("require", "places", number, name), value)
