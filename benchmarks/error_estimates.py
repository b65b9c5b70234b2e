"""``make estimates``: stated errors of random designs against true ones; writes docs/error-estimates.md.

The truths take most of the time; each is a line of results/error-estimates/seed-<seed>.jsonl, so that an interrupted
run goes on where it was, and a change of the estimates alone costs only the program's own solves.
"""

import argparse
import hashlib
import json
import sys
import time
from collections.abc import Iterator
from math import pi
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.error_page import write_page
from benchmarks.random_designs import RandomDesign, random_design
from benchmarks.references import (
    ENOUGH_TRIANGLES,
    FARTHER,
    FINER,
    axis_reference,
    base_reference,
    limit,
    place_ratio,
    tag_reference,
)
from fem.base_solution import BaseProblem
from fem.model import stack_model, tag_model
from fem.near_metal import nearest_surface
from fem.winding_resistance import winding_resistance
from geometries.plan import base_plan, tag_plan
from studies.asked_places import probe_heights
from studies.assembly_coil import winding_section
from studies.coupling import Coupling, coupling_of
from studies.solving import SolvedBase, SolvedTag, solved_base, solved_coils, solved_tag
from studies.specification import Candidate, Place

FOLDER = Path("results/error-estimates")
PAGE = Path("docs/error-estimates.md")
PICTURE = Path("docs/pictures/error-estimates.png")

Line = dict[str, Any]


def truth(design: RandomDesign) -> Line:
    """What is taken for the truth of one design, per turn: each value on the last three meshes."""
    candidate, start = design.candidate, time.perf_counter()
    problem, built = base_problem(candidate), candidate.tag.construction
    assert built is not None, "random tags are constructions"
    (on, off) = design.places
    tag, moments, rings = tag_reference(built, candidate.frequency, problem.accuracy, problem.section, on.height)
    base, sources = base_reference(problem, moments, on.height)
    mutual = base.values[:, -1:] if built.core is None else tag.values[:, -1:]
    parts = [base, tag]
    if image_acts(candidate) and mutual_compared(candidate):
        parts.append(axis_reference(problem, built, on.height))
        mutual = parts[-1].values
    ratio = place_ratio(sources, (moments, rings), off.height, off.offset, off.tilt)
    return {
        "key": _key(design),
        "design": candidate.design,
        "values": {
            name: [[_pair(v) for v in row] for row in rows]
            for name, rows in (("base", base.values), ("tag", tag.values), ("mutual", mutual))
        },
        "ratio": _pair(ratio),
        "triangles": [part.system.elements.mesh.triangles.shape[1] for part in parts],
        "seconds": time.perf_counter() - start,
    }


def compared(design: RandomDesign, true: Line) -> Line:
    """Stated and true errors of one design, by quantity: {stated, true, doubt, size}, all in the quantity's unit."""
    candidate, start = design.candidate, time.perf_counter()
    values = {name: np.array(rows) @ np.array([1.0, 1.0j]) for name, rows in true["values"].items()}
    tag = solved_tag(candidate.tag, candidate.frequency, 0.5 * candidate.accuracy)
    found = {**_base(candidate, solved_base(candidate), values["base"]), **_tag(tag, values["tag"])}
    if mutual_compared(candidate):
        found |= _mutual(design, values["mutual"][:, 0], complex(*true["ratio"]))
    return {
        "design": candidate.design,
        "words": design.words,
        "accuracy": candidate.accuracy,
        "triangles": true["triangles"],
        "seconds": [time.perf_counter() - start, true["seconds"]],
        "quantities": found,
    }


def image_acts(candidate: Candidate) -> bool:
    """Whether the tag has a core that sees its own image in the surroundings."""
    built = candidate.tag.construction
    return (
        built is not None
        and built.core is not None
        and nearest_surface(candidate.stack, candidate.frequency) is not None
    )


def mutual_compared(candidate: Candidate) -> bool:
    """Where the image acts M takes solves with everything meshed at several heights: every third such design does."""
    return not image_acts(candidate) or int(candidate.design) % 3 == 0


def _mutual(design: RandomDesign, on_axis: np.ndarray, ratio: complex) -> Line:
    coils = solved_coils(design.candidate)
    coupling = coupling_of(design.candidate, coils)
    turns, found = coils.base.turns * coils.tag.tag.turns, {}
    for name, place, factor in zip(("M on the axis", "M off the axis"), design.places, (1.0, ratio), strict=True):
        height = np.array([place.height])
        there = coupling.grid(height, np.array([place.offset]), np.array([place.tilt])).mutual_inductance[0, 0, 0]
        stated = coupling.error(height, place.offset, place.tilt)[0] * _without_image(coupling, height, place)
        found[name] = _entry(there, stated, turns * factor * on_axis)
    return found


def _without_image(coupling: Coupling, height: np.ndarray, place: Place) -> float:
    """Share of the stated error that is left without the allowance for the core's own image off the axis.

    That image is part of the truth on the axis only; off it the same factor is taken, as the program does.
    """
    on_axis = place.offset == 0.0 and place.tilt == 0.0
    return float(coupling.relative_error(height, True)[0] / coupling.relative_error(height, on_axis)[0])


def base_problem(candidate: Candidate) -> BaseProblem:
    """The base field's problem as the program puts it to itself."""
    section = winding_section(candidate.coil, candidate.stack, float(candidate.coil.turns or 1))
    accuracy = 0.5 * candidate.accuracy
    return BaseProblem(candidate.stack, section, candidate.frequency, accuracy, probe_heights(candidate))


def _pair(value: complex) -> tuple[float, float]:
    return float(value.real), float(value.imag)


def _key(design: RandomDesign) -> str:
    """Of everything that the truth depends on: mesh plans, constants of the weak form, places, accuracy."""
    candidate, tag = design.candidate, design.candidate.tag.construction
    assert tag is not None, "random tags are constructions"
    problem = base_problem(candidate)
    models = stack_model(problem.stack, problem.frequency), tag_model(tag, problem.frequency)
    plans = base_plan(problem.stack, problem.section, problem.frequency), tag_plan(tag, problem.frequency)
    content = (
        FARTHER,
        FINER,
        ENOUGH_TRIANGLES,
        candidate.design,
        problem.accuracy,
        problem.probe_heights,
        design.places,
        models,
        plans,
    )
    return hashlib.sha256(repr(content).encode()).hexdigest()[:16]


def _base(candidate: Candidate, base: SolvedBase, true: np.ndarray) -> Line:
    """L; R as far as it is reflected; R in all, with the proximity part that hangs on the field."""
    omega = 2.0 * pi * candidate.frequency
    square, own = base.turns**2, base.field.flux_linkage
    stated = base.field.inductance_error * own.real * square
    found = {"base L": _entry(own.real * square, stated, true[:, 0].real * square)}
    if own.imag == 0.0:
        return found  # nothing around it takes power
    reflected = -omega * square * true[:, 0].imag
    found["reflected R"] = _entry(base.reflected_resistance, omega * square * base.field.resistance_error, reflected)
    wire, length = candidate.coil.wire, true[:, -2].real
    winding = [
        winding_resistance(base.section, base.turns, wire, candidate.frequency, float(value)).total for value in length
    ]
    stated = base.resistance_error(candidate.frequency)
    return found | {"base R": _entry(base.resistance, stated, reflected + np.array(winding))}


def _tag(tag: SolvedTag, true: np.ndarray) -> Line:
    field = tag.field
    own, moment = field.flux_linkage, field.moments.moments[0]
    found = {"tag L": _entry(own.real, field.inductance_error * abs(own), true[:, 0].real)}
    if field.core is None:
        return found  # its moment is geometry alone
    return found | {"axial moment": _entry(moment, field.moment_error * abs(moment), true[:, 1])}


def _entry(found: complex, stated: float, values: np.ndarray) -> Line:
    true, doubt = limit(values)
    return {"stated": float(stated), "true": float(abs(found - true)), "doubt": doubt, "size": abs(true)}


def lines(seed: int, count: int) -> Iterator[Line]:
    """Every design's comparison; truths are looked for among the stored ones first."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    path = FOLDER / f"seed-{seed}.jsonl"
    stored = {line["key"]: line for line in _stored(path)}
    for number in range(count):
        design = random_design(seed, number)
        found = stored.get(_key(design))
        if found is None:
            found = truth(design)
            with path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(found) + "\n")
        line = compared(design, found)
        print(_told(line), file=sys.stderr, flush=True)
        yield line


def _stored(path: Path) -> list[Line]:
    """What an earlier run left; a line it was stopped in is not one."""
    if not path.exists():
        return []
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines() if line.endswith("}")]


def _told(line: Line) -> str:
    missed = [name for name, entry in line["quantities"].items() if entry["true"] > entry["stated"]]
    took = "{:.1f} s + {:.1f} s".format(*line["seconds"])
    return f"{line['design']} {took}; {line['words']}" + (f"; NOT COVERED: {', '.join(missed)}" if missed else "")


def main() -> None:
    """Run, and write page and picture."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--count", type=int, default=104, help="number of random designs")
    options = parser.parse_args()
    found = list(lines(options.seed, options.count))
    write_page(found, options.seed, PAGE, PICTURE)
    print(f"Page: {PAGE}, picture: {PICTURE}", file=sys.stderr)


if __name__ == "__main__":
    main()
