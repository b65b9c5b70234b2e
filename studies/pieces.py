"""One candidate's result as one file: its record as JSON beside its arrays, in a zip with a checksum for each part."""

import json
import zipfile
from dataclasses import asdict
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np

from links.reading import ReadingWindow
from studies.evaluation import Evaluation, MapValues
from studies.files import whole_file
from studies.linking import Profile
from studies.specification import Candidate
from studies.stored import Arrays, StoredDesign
from studies.verdict import Check

PHYSICS_VERSION = 4
"""Raised whenever the same candidate gives other numbers: stored pieces of before are then computed again."""

MAP_NAMES = (
    "mutual_inductance",
    "worst_mutual_inductance",
    "mutual_inductance_error",
    "coupling_coefficient",
    "chip_voltage",
    "margin",
    "worst_margin",
)
LINE_NAMES = ("heights", "margin", "margin_low", "margin_high")


def piece_key(candidate: Candidate | None, text: str) -> str:
    """What a piece was computed from: the whole specification (or the reason that there is none) and the physics."""
    content = f"{PHYSICS_VERSION}\n{candidate!r}\n{text if candidate is None else ''}"
    return sha256(content.encode()).hexdigest()


def write_piece(path: Path, key: str, stored: StoredDesign, evaluation: Evaluation | None) -> None:
    """Write a candidate's result, whole or not at all."""
    arrays: dict[str, Any] = {} if evaluation is None else _arrays(evaluation)
    lines = [] if evaluation is None else [_line(profile) for profile in evaluation.profiles]
    record = {"key": key, **asdict(stored), "lines": lines}
    arrays["record"] = np.frombuffer(json.dumps(record).encode(), dtype=np.uint8)
    with whole_file(path) as partial, partial.open("wb") as file:
        np.savez(file, **arrays)


def _arrays(evaluation: Evaluation) -> dict[str, Any]:
    found = {name: getattr(evaluation.map, name) for name in MAP_NAMES}
    for number, profile in enumerate(evaluation.profiles):
        found |= {f"line{number}_{name}": getattr(profile, name) for name in LINE_NAMES}
    coils, candidate = evaluation.coils, evaluation.candidate
    heights = np.array(candidate.grid.heights)
    moments = coils.tag.field.moments
    found["heights"] = heights
    found["offsets"] = np.array(candidate.grid.offsets)
    found["tilts"] = np.array(candidate.grid.tilts)
    found["axial_moments"] = moments.moments * coils.tag.tag.turns
    found["axial_moment_scale"] = np.array(moments.scale)
    found["map_correction"] = coils.near.map_ratio(heights)
    found["tag_inductance"] = coils.tag_inductance(heights)
    found["tag_resistance"] = coils.tag_resistance(heights, candidate.frequency)
    return found


def _line(profile: Profile) -> dict[str, Any]:
    return {
        "label": profile.label,
        "offset": profile.offset,
        "tilt": profile.tilt,
        "intervals": profile.window.intervals,
        "starts_at_begin": profile.window.starts_at_begin,
        "reaches_end": profile.window.reaches_end,
    }


class BrokenPieceError(Exception):
    """A stored piece that is truncated, corrupt or of another shape."""


def read_record(path: Path) -> tuple[str, StoredDesign]:
    """Key and record of a piece.

    Raises
    ------
    BrokenPieceError
        Where the file is not whole; every part's checksum is verified.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            damaged = archive.testzip()
            if damaged is not None:
                raise BrokenPieceError(f"{path.name}: {damaged} does not match its checksum")
        record = _record(path)
        checks = tuple(Check(**check) for check in record["checks"])
        stored = StoredDesign(
            record["index"],
            record["design"],
            record["status"],
            record["message"],
            record["row"],
            checks,
            tuple(record["warnings"]),
            tuple(record["cautions"]),
            record["seconds"],
        )
        return str(record["key"]), stored
    except BrokenPieceError:
        raise
    except Exception as fault:  # what a damaged file makes of the readers cannot be listed
        raise BrokenPieceError(f"{path.name}: {' '.join(str(fault).split()) or type(fault).__name__}") from fault


def _record(path: Path) -> dict[str, Any]:
    with np.load(path) as content:
        return dict(json.loads(content["record"].tobytes().decode()))


def read_arrays(path: Path) -> Arrays:
    """Map and lines of a piece that was computed."""
    with np.load(path) as content:
        lines = json.loads(content["record"].tobytes().decode())["lines"]
        values = MapValues(**{name: content[name] for name in MAP_NAMES})
        return Arrays(values, tuple(_profile(content, number, line) for number, line in enumerate(lines)))


def _profile(content: Any, number: int, line: dict[str, Any]) -> Profile:
    intervals = tuple((float(low), float(high)) for low, high in line["intervals"])
    window = ReadingWindow(intervals, line["starts_at_begin"], line["reaches_end"])
    arrays = {name: content[f"line{number}_{name}"] for name in LINE_NAMES}
    return Profile(line["label"], line["offset"], line["tilt"], window=window, **arrays)
