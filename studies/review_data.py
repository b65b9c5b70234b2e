"""What the page that a reviewer keeps open is made of: every candidate's map, section and figures, made small."""

import zlib
from base64 import b64encode
from collections.abc import Callable
from math import degrees
from typing import Any

import numpy as np

from fem.arrays import Array
from geometries.stack import RIBBON_KINDS, Layer
from geometries.tag import Outline
from studies.drawing import (
    CERAMIC,
    COPPER,
    FERRITE,
    LEAST_THICKNESS,
    METAL,
    MILLIMETRE,
    RIBBON,
    layer_spans,
    placed,
    view_of,
    whole_outline,
)  # fmt: skip
from studies.figures import Subject, scene_of_result
from studies.findings import Findings, findings, number
from studies.one_state import MapValues
from studies.stored import Arrays, Run, StoredDesign
from studies.swept import swept_axes

STEP = 0.01
"""Maps are kept to so many decibels: a tenth of a per cent."""

LOWEST = -300.0
"""What stands for nothing at all, below which no decibel counts [dB]."""

FIGURES = (
    ("margin", "margin_dB", 1.0, "dB", 1),
    ("read height", "required_read_height_m", 1e3, "mm", 1),
    ("coil voltage", "coil_voltage_V", 1.0, "V", 0),
    ("base current", "base_current_A", 1e3, "mA", 0),
    ("input power", "input_power_W", 1.0, "W", 2),
)
"""Columns of the table besides swept values: title, column, factor, unit, digits."""


WORST = ("worst_place", "worst_state")


def review_data(run: Run, arrays: Callable[[StoredDesign], Arrays]) -> dict[str, Any]:
    """Everything the page shows, as JSON takes it.

    Parameters
    ----------
    run : Run
        Complete or not.
    arrays : callable
        Gives map and lines of a computed candidate.
    """
    found = findings(run)
    grid = run.study.base.grid
    axes = swept_axes(run.study)
    bodies: dict[str, int] = {}
    designs = [_design(found, run, stored, arrays, bodies) for stored in run.designs]
    best = found.best
    return {
        "study": run.study.name,
        "tilts": [round(degrees(tilt), 6) for tilt in grid.tilts],
        "required": _required(run),
        "axes": [{"title": axis.title, "texts": list(axis.texts), "numbers": axis.numbers} for axis in axes],
        "figures": [{"title": f"{title} [{unit}]", "digits": digits} for title, _, _, unit, digits in FIGURES],
        "bodies": list(bodies),
        "designs": designs,
        "first": 0 if best is None else next(i for i, one in enumerate(run.designs) if one is best),
        "complete": len(run.designs) == run.study.count,
    }


def _required(run: Run) -> list[dict[str, float]]:
    return [
        {"x": place.offset * MILLIMETRE, "z": place.height * MILLIMETRE, "tilt": degrees(place.tilt)}
        for place in run.study.base.require.places
    ]


def _design(
    found: Findings, run: Run, stored: StoredDesign, arrays: Callable[[StoredDesign], Arrays], bodies: dict[str, int]
) -> dict[str, Any]:
    axes = found.axes
    one: dict[str, Any] = {
        "name": stored.design,
        "state": "not computed" if stored.status == "failed" else "meets" if stored.passed else "misses",
        "places": [axis.place(stored) for axis in axes],
        "figures": [_finite(stored, column, factor) for _, column, factor, _, _ in FIGURES],
        "misses": [stored.message] if stored.status == "failed" else [check.sentence for check in stored.failures],
        "worst": ""
        if stored.status == "failed"
        else f"{stored.row.get('worst_place')}, {stored.row.get('worst_state')}",
        "map": None,
        "bodies": [],
    }
    if stored.status == "failed":
        return one
    candidate, kept = run.study.candidate(stored.index), arrays(stored)
    grid = candidate.grid
    one |= {
        "heights": [round(height * MILLIMETRE, 4) for height in grid.heights],
        "offsets": [round(offset * MILLIMETRE, 4) for offset in grid.offsets],
        "map": packed(kept.map),
        "bodies": [bodies.setdefault(body, len(bodies)) for body in _bodies(Subject(stored, candidate, kept))],
    }
    return one


def _finite(stored: StoredDesign, column: str, factor: float) -> float | None:
    value = number(stored, column)
    return None if value is None or not np.isfinite(value) else float(f"{value * factor:.6g}")


def packed(values: MapValues) -> str:
    """Worst margin, coupling coefficient and chip voltage [dB, dB, dB over 1 V] of all places as compressed text.

    Whole hundredths of a decibel in 16 bits, of each quantity tilt by tilt and height by height, each as the difference
    from the one before: neighbours are alike, so that little is left of them.
    """
    with np.errstate(divide="ignore"):
        layers = [
            values.worst_margin,
            20.0 * np.log10(np.abs(values.coupling_coefficient)),
            20.0 * np.log10(np.abs(values.chip_voltage)),
        ]
    whole = np.concatenate([_whole(layer).transpose(2, 0, 1).ravel() for layer in layers])
    steps = np.diff(whole, prepend=np.int16(0)).astype("<i2")
    return b64encode(zlib.compress(steps.tobytes(), 6)).decode("ascii")


def _whole(decibels: Array) -> Any:
    kept = np.clip(np.nan_to_num(decibels, nan=LOWEST, neginf=LOWEST, posinf=-LOWEST), LOWEST, -LOWEST)
    return np.round(kept / STEP).astype(np.int16)


def _bodies(subject: Subject) -> list[str]:
    """Each body as name, colour and outline for a picture: ``name|colour|M x,z L … Z``, in millimetres."""
    scene = scene_of_result(subject)
    stack, tag, place = scene.candidate.stack, scene.tag, scene.place
    thin = view_of(scene).scale * LEAST_THICKNESS
    found = [_layer(layer, thin) for layer in stack.layers if layer.thickness > 0.0 and layer.kind != "gap"]
    found += [
        _body(solid.name, METAL if solid.conductivity > 0.0 else CERAMIC, *_sides(solid.outline))
        for solid in stack.solids
    ]
    found.append(_body("base coil", COPPER, *_sides(scene.section.corners)))
    if tag.core is not None:
        found.append(_body("tag's core", FERRITE, placed(whole_outline(tag.core.outline), place)))
    found.append(_body("tag's coil", COPPER, *(placed(side, place) for side in _sides(tag.section.corners))))
    return found


def _layer(layer: Layer, thin: float) -> str:
    low, high = min(layer.bottom, layer.top - thin), layer.top
    spans = [((a, low), (b, low), (b, high), (a, high)) for a, b in layer_spans(layer)]
    colour = RIBBON if layer.kind in RIBBON_KINDS else METAL if layer.conductivity > 0.0 else CERAMIC
    return _body(layer.name, colour, *spans)


def _sides(outline: Outline) -> tuple[Outline, Outline]:
    return outline, tuple((-r, z) for r, z in outline)


def _body(name: str, colour: str, *outlines: Outline) -> str:
    paths = [
        "M" + "L".join(f"{r * MILLIMETRE:.3f},{z * MILLIMETRE:.3f}" for r, z in outline) + "Z" for outline in outlines
    ]
    return f"{name}|{colour}|{''.join(paths)}"
