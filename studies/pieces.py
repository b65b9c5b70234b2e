"""One candidate's result as one file: its record as JSON beside its arrays, sealed with its key and a checksum.

The file is a zip as numpy writes it; its comment, which ends the file, holds the key and the SHA-256 of every byte
before. It is read whole and checked each time: no damage goes unnoticed, wherever it lies.
"""

import json
from dataclasses import asdict, dataclass, fields, replace
from functools import cache
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from sys import intern
from typing import Any

import numpy as np

from fem.gathered_loops import Loops
from links.reading import ReadingWindow
from studies.evaluation import Evaluation
from studies.files import write_bytes
from studies.linking import Profile
from studies.one_state import MapValues
from studies.person_field import base_loops
from studies.rows import Row, StoredRow
from studies.specification import Candidate
from studies.stored import Arrays, StoredDesign
from studies.verdict import Check
from studies.versions import installed_version
from studies.zipped import ZippedArrays

PHYSICS_VERSION = 21
"""Raised whenever the same candidate gives other numbers: stored pieces of before are then computed again."""

STORE_VERSION = 2
"""Raised whenever a run folder is laid out so that an older trivet would misread it."""

NUMERICAL_LIBRARIES = ("numpy", "scipy", "scikit-fem", "gmsh")
"""Another version of one of these may give other last digits: what it computed is kept apart."""

_DIGITS = 64
_SEAL = b"trivet piece\n"
_SEAL_LENGTH = len(_SEAL) + 2 * _DIGITS
_NO_COMMENT = b"\0\0"

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
LOOP_NAMES = ("radius", "height", "current", "blur")


def made_with() -> tuple[tuple[str, str], ...]:
    """Versions, by name, of what computes a result here and now."""
    return ("physics", str(PHYSICS_VERSION)), *library_versions()


@cache
def library_versions() -> tuple[tuple[str, str], ...]:
    """Versions of the numerical libraries installed, by name."""
    return tuple((name, installed_version(name)) for name in NUMERICAL_LIBRARIES)


def piece_key(candidate: Candidate | None, text: str) -> str:
    """What a piece was computed from: the whole specification (or the reason that there is none), physics, libraries.

    The candidate's name and swept values are no part of it, nor what is only drawn or told beside it: another sweep
    that comes upon the same design finds its piece.
    """
    if candidate is not None:
        drawn_only = () if candidate.puck is None else candidate.vessels
        candidate = replace(candidate, design="", swept=(), vessels=drawn_only, assumptions=())
    content = f"{made_with()}\n{candidate!r}\n{text if candidate is None else ''}"
    return sha256(content.encode()).hexdigest()


def write_piece(path: Path, key: str, stored: StoredDesign, evaluation: Evaluation | None) -> None:
    """Write a candidate's result, whole or not at all."""
    write_bytes(path, piece_bytes(key, stored, evaluation))


def piece_bytes(key: str, stored: StoredDesign, evaluation: Evaluation | None) -> bytes:
    """A candidate's result as its file holds it; numpy dates the parts 1980, so that equal results are equal bytes."""
    arrays: dict[str, Any] = {} if evaluation is None else _arrays(evaluation)
    lines = [] if evaluation is None else [_line(profile) for profile in evaluation.profiles]
    states = () if evaluation is None else evaluation.states
    head = ["design", *(() if evaluation is None else (name for name, _ in evaluation.candidate.swept))]
    record = {"made_with": made_with(), "head": head, **_plain(stored), "lines": lines, "states": states}
    if evaluation is not None and evaluation.vessels:
        record["vessels"] = evaluation.vessels
    return _sealed(key, record, arrays)


def rewrite_piece(content: "Content", path: Path, place: tuple[int, str, str], head: Row) -> None:
    """Write a piece of another sweep anew as the candidate that it is in this one.

    Parameters
    ----------
    content : Content
        The piece as read.
    path : Path
        Where it goes.
    place : tuple of int and two str
        The candidate's index, name and origin here.
    head : Row
        First columns of its row here: name and swept values.
    """
    record, names = content.record, dict(zip(("index", "design", "origin"), place, strict=True))
    own = {name: value for name, value in record["row"].items() if name not in record["head"]}
    record = record | names | {"row": head | own, "head": list(head)}
    write_bytes(path, _sealed(content.key, record, {name: content[name] for name in content.names if name != "record"}))


def _sealed(key: str, record: dict[str, Any], arrays: dict[str, Any]) -> bytes:
    memory = BytesIO()
    np.savez(memory, record=np.frombuffer(json.dumps(record).encode(), dtype=np.uint8), **arrays)
    whole = memory.getvalue()
    assert whole.endswith(_NO_COMMENT), "the length of the zip's comment ends the file"
    sealed = whole[: -len(_NO_COMMENT)] + _SEAL_LENGTH.to_bytes(2, "little") + _SEAL + key.encode().ljust(_DIGITS)
    return sealed + sha256(sealed).hexdigest().encode()


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
    loops = base_loops(coils.base.field)
    return found | {f"loop_{name}": getattr(loops, name) for name in LOOP_NAMES}


def _plain(stored: StoredDesign) -> dict[str, Any]:
    """A candidate's record as JSON takes it."""
    plain = {field.name: getattr(stored, field.name) for field in fields(stored)}
    return plain | {"row": dict(stored.row), "checks": [asdict(check) for check in stored.checks]}


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


@dataclass(frozen=True, slots=True)
class Content:
    """A whole piece in memory, its checksum verified: key, record, and arrays by name."""

    key: str
    record: dict[str, Any]
    parts: "ZippedArrays"

    @classmethod
    def read(cls, path: Path) -> "Content":
        """Read a piece.

        Raises
        ------
        BrokenPieceError
            Where the file is not whole, to the last bit.
        """
        try:
            sealed = path.read_bytes()
            body, checksum = sealed[:-_DIGITS], sealed[-_DIGITS:]
            if sha256(body).hexdigest().encode() != checksum:
                raise BrokenPieceError(f"{path.name}: its content does not match its checksum")
            if body[-_DIGITS - len(_SEAL) : -_DIGITS] != _SEAL:
                raise BrokenPieceError(f"{path.name}: it is no piece of a run")
            parts = ZippedArrays(sealed)
            record = json.loads(parts["record"].tobytes().decode())
            return cls(body[-_DIGITS:].decode().rstrip(), dict(record), parts)
        except BrokenPieceError:
            raise
        except Exception as fault:  # what a damaged file makes of the readers cannot be listed
            raise BrokenPieceError(f"{path.name}: {' '.join(str(fault).split()) or type(fault).__name__}") from fault

    def __getitem__(self, name: str) -> Any:
        """One array."""
        return self.parts[name]

    @property
    def names(self) -> list[str]:
        """Names of the arrays, the record's bytes among them."""
        return self.parts.names

    @property
    def made_with(self) -> dict[str, str]:
        """Versions of what computed it."""
        return dict(self.record["made_with"])


def changed_since(content: Content) -> str:
    """Which versions are others than those that made a piece, in words; empty where none is."""
    before, now = content.made_with, dict(made_with())
    differ = [name for name in now if before.get(name) != now[name]]
    return ", ".join(f"{name} went from {before.get(name, 'unknown')} to {now[name]}" for name in differ)


def sealed_key(path: Path) -> str | None:
    """Key of a piece from its last bytes alone, unchecked; None where there is none."""
    try:
        with path.open("rb") as file:
            file.seek(-_SEAL_LENGTH, 2)
            seal = file.read()
    except OSError:
        return None
    return seal[len(_SEAL) : -_DIGITS].decode("ascii", "replace").rstrip() if seal.startswith(_SEAL) else None


def read_record(path: Path) -> tuple[str, StoredDesign]:
    """Key and record of a piece.

    Raises
    ------
    BrokenPieceError
        Where the file is not whole.
    """
    return stored_in(Content.read(path), path)


def stored_in(content: Content, path: Path) -> tuple[str, StoredDesign]:
    """Key and record of a piece that was read from ``path``."""
    record = content.record
    try:
        checks = tuple(_check(check) for check in record["checks"])
        stored = StoredDesign(
            record["index"],
            record["design"],
            record["status"],
            intern(record["message"]),
            StoredRow(record["row"]),
            checks,
            tuple(map(intern, record["warnings"])),
            tuple(map(intern, record["cautions"])),
            record["seconds"],
            intern(record["origin"]),
        )
    except (KeyError, TypeError, AttributeError) as fault:
        raise BrokenPieceError(f"{path.name}: its record is of another shape ({fault})") from fault
    return content.key, stored


def _check(record: dict[str, Any]) -> Check:
    """One check, its words shared with all others that say the same."""
    told: dict[str, Any] = {name: intern(value) if isinstance(value, str) else value for name, value in record.items()}
    return Check(**told)


def read_arrays(path: Path) -> Arrays:
    """Map and lines of a piece that was computed.

    Raises
    ------
    BrokenPieceError
        Where the file is not whole.
    """
    content = Content.read(path)
    values = MapValues(**{name: content[name] for name in MAP_NAMES})
    lines = tuple(_profile(content, number, line) for number, line in enumerate(content.record["lines"]))
    loops = Loops(*(content[f"loop_{name}"] for name in LOOP_NAMES))
    return Arrays(values, lines, loops, states_in(content), vessels_in(content))


def states_in(content: Content) -> tuple[Row, ...]:
    """Row of each state of a candidate, its name first."""
    return tuple(content.record.get("states", ()))


def vessels_in(content: Content) -> tuple[Row, ...]:
    """Row of each vessel of a candidate, its name first; none where no puck is given."""
    return tuple(content.record.get("vessels", ()))


def _profile(content: Content, number: int, line: dict[str, Any]) -> Profile:
    intervals = tuple((float(low), float(high)) for low, high in line["intervals"])
    window = ReadingWindow(intervals, line["starts_at_begin"], line["reaches_end"])
    arrays = {name: content[f"line{number}_{name}"] for name in LINE_NAMES}
    return Profile(line["label"], line["offset"], line["tilt"], window=window, **arrays)
