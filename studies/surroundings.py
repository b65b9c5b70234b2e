"""What each layer and solid takes from the coupling and adds to the base coil: one solve with it and one without.

A spiral heater is shown both ways, its ends open and joined: which of the two the mains make of it at the working
frequency is for a measurement to say.
"""

from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from math import log, log10
from typing import Any

from geometries.plan import acts
from geometries.stack import Layer, LayerKind, Stack
from studies.engineering import place_text
from studies.evaluation import Evaluation, evaluated
from studies.one_state import PlaceResult
from studies.rows import number
from studies.specification import Candidate, CoilSpecification, MapGrid

SPIRALS: tuple[tuple[LayerKind, str], ...] = (("open spiral", "ends open"), ("shorted spiral", "ends joined"))

ALL_OF_THEM = "all of them"
"""Name of the row without any layer or solid that acts."""

LEAST_COUPLING = 1e-9
"""A coupling coefficient no larger is none: nothing can be taken from it."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What one layer or solid does, by the whole design with it and without it.

    ``coupling_change_dB`` is that of |M| at the place (None where there is no coupling), ``coupling_change_error_dB``
    what both solves may be off together; ``added_resistance_ohm`` is what it adds to the base coil, whose quality
    factor and inductance are given without it.
    """

    name: str
    coupling_change_dB: float | None  # noqa: N815 - the unit as the trade spells it
    coupling_change_error_dB: float | None  # noqa: N815
    added_resistance_ohm: float
    base_q_without: float
    base_inductance_without_H: float  # noqa: N815


@dataclass(frozen=True, slots=True)
class Spiral:
    """The whole design with a spiral heater in one of its two states."""

    name: str
    state: str
    as_designed: bool
    mutual_inductance_H: float  # noqa: N815
    coupling_coefficient: float
    base_inductance_H: float  # noqa: N815
    base_resistance_ohm: float
    base_q: float
    margin_dB: float  # noqa: N815


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands around a design: the place looked at, the design as it is, each taken away, each spiral both ways."""

    place: str
    mutual_inductance_H: float  # noqa: N815
    base_resistance_ohm: float
    base_q: float
    base_inductance_H: float  # noqa: N815
    taken: tuple[Taken, ...]
    spirals: tuple[Spiral, ...]

    def record(self) -> dict[str, Any]:
        """As it stands in ``run.json``."""
        return asdict(self)


def surroundings(candidate: Candidate) -> Surroundings:
    """Solve a candidate as it is, without each layer and solid that acts, and with each spiral both ways.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where it cannot be computed.
    """
    whole = evaluated(_on_the_axis_only(candidate))
    index = min(range(len(whole.places)), key=lambda i: whole.places[i].margin)
    fixed = replace(whole.candidate, coil=_as_wound(whole))
    taken = [_taken(name, whole, evaluated(replace(fixed, stack=stack)), index) for name, stack in without_each(fixed)]
    place = whole.places[index]
    return Surroundings(
        place_text(place.place), place.mutual_inductance, *_terminal(whole), tuple(taken),
        tuple(_spirals(fixed, whole, index)),
    )  # fmt: skip


def _on_the_axis_only(candidate: Candidate) -> Candidate:
    """The state as given; the map plays no part but for its heights, at which the field has to hold."""
    return replace(candidate, grid=MapGrid(candidate.grid.heights, (0.0,), (0.0,)), states=())


def _as_wound(whole: Evaluation) -> CoilSpecification:
    """The coil with the turns and the section that were found, whatever is then taken away."""
    base, coil = whole.coils.base, whole.candidate.coil
    section = base.section
    return replace(
        coil, turns=round(base.turns), inductance=None, radial_build=section.radial_build,
        winding_length=section.winding_length,
    )  # fmt: skip


def without_each(candidate: Candidate) -> Iterator[tuple[str, Stack]]:
    """The stack with one after the other of what acts taken out, and with all of it out; places stay as they are."""
    stack = candidate.stack
    layers = [layer for layer in stack.layers if _layer_acts(layer)]
    solids = [solid for solid in stack.solids if acts(solid.conductivity, solid.material.magnetic)]
    for layer in layers:
        yield layer.name, replace(stack, layers=_emptied(stack, {layer.name}))
    for solid in solids:
        yield solid.name, replace(stack, solids=tuple(s for s in stack.solids if s.name != solid.name))
    if len(layers) + len(solids) > 1:
        left = tuple(solid for solid in stack.solids if solid not in solids)
        yield ALL_OF_THEM, Stack(_emptied(stack, {layer.name for layer in layers}), left)


def _layer_acts(layer: Layer) -> bool:
    return layer.material is not None and acts(layer.conductivity, layer.material.magnetic)


def _emptied(stack: Stack, names: set[str]) -> tuple[Layer, ...]:
    """A layer that is taken out leaves its room behind."""
    return tuple(replace(layer, kind="gap", material=None) if layer.name in names else layer for layer in stack.layers)


def _taken(name: str, whole: Evaluation, without: Evaluation, index: int) -> Taken:
    with_it, left = whole.places[index], without.places[index]
    resistance, quality, inductance = _terminal(without)
    change = error = None
    if min(with_it.coupling_coefficient, left.coupling_coefficient) > LEAST_COUPLING:
        change = 20.0 * log10(with_it.mutual_inductance / left.mutual_inductance)
        error = 20.0 / log(10.0) * (_field_error(whole) + _field_error(without))
    return Taken(name, change, error, _terminal(whole)[0] - resistance, quality, inductance)


def _field_error(evaluation: Evaluation) -> float:
    """Relative error of the base field and of what is near the tag; what the tag's own solve is off by, both share."""
    return max(evaluation.coils.base.field.field_errors) + evaluation.coils.near.uncertainty


def _terminal(evaluation: Evaluation) -> tuple[float, float, float]:
    row = evaluation.row
    return number(row, "base_resistance_ohm"), number(row, "base_q"), number(row, "base_inductance_H")


def _spirals(candidate: Candidate, whole: Evaluation, index: int) -> Iterator[Spiral]:
    kinds = dict(SPIRALS)
    for layer in candidate.stack.layers:
        if layer.kind not in kinds:
            continue
        for kind, state in SPIRALS:
            as_designed = kind == layer.kind
            layers = tuple(replace(one, kind=kind) if one is layer else one for one in candidate.stack.layers)
            found = (
                whole if as_designed else evaluated(replace(candidate, stack=replace(candidate.stack, layers=layers)))
            )
            yield _spiral(layer.name, state, as_designed, found, found.places[index])


def _spiral(name: str, state: str, as_designed: bool, found: Evaluation, place: PlaceResult) -> Spiral:
    resistance, quality, inductance = _terminal(found)
    return Spiral(
        name, state, as_designed, place.mutual_inductance, place.coupling_coefficient, inductance, resistance, quality,
        place.margin,
    )  # fmt: skip
