"""Units as built: a study whose designs are draws from the spreads about one design."""

import tomllib
from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Array
from studies.keypaths import Raw, removed, replaced, value_at
from studies.one_state import Kept, linked_in_state
from studies.specification import Candidate, CapacitorSpecification
from studies.spread import CAPACITORS, PLACES, Spread
from studies.study import NOT_OF_A_CANDIDATE, Study, study_of
from studies.sweep import with_axis_value
from studies.tomltext import toml_text

OWN_KEYS = ("dielectric", "stray", "loss_factor", "rated_voltage", "temperature")
"""What a unit's capacitor has of the design's own; its value is drawn, and its tolerance is that of the draw."""


@dataclass(frozen=True, slots=True, eq=False)
class Units:
    """Units of one design: what was drawn, and two studies of them.

    Parameters
    ----------
    spreads : tuple of Spread
        n_spread of them.
    draws : ndarray, shape (n_unit, n_spread)
        Evenly distributed in 0 to 1: where in its distribution each value lies.
    fitted, retuned : Study
        With the capacitors of the design, off by what is drawn; with the base coil tuned exactly on each unit, the tag
        as fitted.
    """

    spreads: tuple[Spread, ...]
    draws: Array
    fitted: Study
    retuned: Study


def units_of(study: Study, index: int | None, count: int, seed: int) -> Units:
    """Draw units, each value independent of all others.

    Parameters
    ----------
    study : Study
        With spreads.
    index : int or None
        Of the candidate; None is the base design.
    count, seed : int
        Units, and the seed of the draw.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError, StudyFaults
        Where the design cannot be computed, or a value drawn cannot be.
    """
    draws = np.random.default_rng(seed).random((count, len(study.spreads)))
    candidate = study.base if index is None else study.candidate(index)
    states = (candidate, *candidate.states)
    kept = Kept.of(linked_in_state(next((one for one in states if one.state == candidate.tuned_in), candidate)))
    raw = _as_wound(_design(study, index), candidate, kept)
    fixed = {key: _fitted(raw, key, one) for key, one in zip(CAPACITORS, kept.fitted, strict=True)}
    return Units(
        study.spreads,
        draws,
        _listed(study, raw, fixed, draws),
        _listed(study, raw, {CAPACITORS[0]: {}, CAPACITORS[1]: fixed[CAPACITORS[1]]}, draws),
    )


def _design(study: Study, index: int | None) -> Raw:
    """The tables of one design, its swept values in their places."""
    raw = study.raw
    if index is not None:
        for axis, place in zip(study.swept_axes, study.places(index), strict=True):
            raw = with_axis_value(raw, axis, place)
    return raw


def _as_wound(raw: Raw, candidate: Candidate, kept: Kept) -> Raw:
    """The design with whole turns in a certain section, where it asks for an inductance; a coarse map."""
    coil, section, grid = candidate.coil, kept.base.section, candidate.grid
    if coil.inductance is not None:
        raw = replaced(removed(raw, ("base_coil", "inductance")), ("base_coil", "turns"), round(kept.base.turns))
    if coil.radial_build is None:
        raw = replaced(raw, ("base_coil", "radial_build"), f"{section.radial_build!r} m")
        raw = replaced(raw, ("base_coil", "winding_length"), f"{section.winding_length!r} m")
    heights = {"from": f"{min(grid.heights)!r} m", "to": f"{max(grid.heights)!r} m", "count": 2}
    return replaced(raw, ("map",), {"height": heights, "offset": [f"{grid.offsets[0]!r} m"], "tilt": ["0 deg"]})


def _fitted(raw: Raw, key: str, capacitor: CapacitorSpecification) -> dict[str, Any]:
    """A capacitor table with the value that the design has, whatever chose it."""
    own = value_at(raw, tuple(key.split(".")))
    table = {name: own[name] for name in OWN_KEYS if name in own} if isinstance(own, dict) else {}
    value = sum(capacitor.parts) if capacitor.parts else capacitor.capacitance
    return table | {"capacitance": f"{value!r} F"}


def _listed(study: Study, raw: Raw, capacitors: dict[str, dict[str, Any]], draws: Array) -> Study:
    """A study of units, one design each."""
    whole = tomllib.loads(study.text)
    lists: dict[str, list[object]] = {}
    for key, table in capacitors.items():
        path = tuple(key.split("."))
        raw = replaced(raw, path, table) if table else removed(raw, path)
    for spread, drawn in zip(study.spreads, draws.T, strict=True):
        if spread.key in PLACES:
            lists |= _shifted_places(raw, spread, drawn)
        elif spread.key in CAPACITORS:
            if capacitors[spread.key]:
                lists[f"{spread.key}.capacitance"] = spread.values(capacitors[spread.key]["capacitance"], drawn)
        else:
            lists[spread.key] = spread.values(value_at(raw, spread.path), drawn)
    kept = {key: whole[key] for key in NOT_OF_A_CANDIDATE if key in whole and key == "temperatures"}
    text = toml_text({**raw, **kept, "sweep": lists, "sampling": {"method": "listed"}})
    return study_of(text, study.path)


def _shifted_places(raw: Raw, spread: Spread, drawn: Array) -> dict[str, list[object]]:
    """Every required place with a unit's shift; an offset or a tilt to the other side is one of the same size."""
    name = spread.key.partition(".")[2]
    places = value_at(raw, ("require", "places"))
    lists: dict[str, list[object]] = {}
    for number, place in enumerate(places if isinstance(places, list) else []):
        values = spread.shifted(place[name], drawn, PLACES[spread.key], signed=name == "height")
        lists[f"require.places.{number}.{name}"] = values
    return lists
