"""What other runs of a study, of before it was changed, have computed already and still holds."""

from collections.abc import Iterator
from math import ceil
from pathlib import Path
from typing import Any

from studies.errors import RunError
from studies.outputs import PIECES
from studies.pieces import PHYSICS_VERSION, BrokenPieceError, Content, library_versions, rewrite_piece, sealed_key
from studies.store import piece_path, read_info
from studies.study import Study
from studies.work import first_columns, key_of, origin

TRIED_FIRST = 500
"""Candidates tried before all of a larger sweep are: a share of a hundredth that holds escapes them once in 150."""


def take_over(study: Study, folder: Path) -> int:
    """Fill a run's folder with what still holds from runs of the same study's name beside it; how many there were.

    A piece is found by its key alone, whatever its candidate was called there, and is written anew under its name
    here. Only what was computed counts: a candidate that failed is given another try.

    Notes
    -----
    Each candidate has to be built to know its key, 4 ms. Of a large sweep a few are therefore tried first, spread over
    it, and the others only where one of those is found.
    """
    known = {key: path for path in _neighbours(study, folder) if (key := sealed_key(path)) is not None}
    if not known:
        return 0
    lacking = [index for index in range(study.count) if not piece_path(folder, study.design_name(index)).exists()]
    step = ceil(len(lacking) / TRIED_FIRST) if lacking else 1
    found = sum(_taken(study, folder, index, known) for index in lacking[::step])
    if not found or step == 1:
        return found
    return found + sum(_taken(study, folder, index, known) for n, index in enumerate(lacking) if n % step)


def _neighbours(study: Study, folder: Path) -> Iterator[Path]:
    """Pieces of the other runs of the study."""
    for other in sorted(folder.absolute().parent.iterdir()):
        if other.name == folder.name or not (other / PIECES).is_dir():
            continue
        try:
            info = read_info(other)
            if info.get("study") == study.name and _may_hold(info):
                yield from (other / PIECES).glob("*.npz")
        except (RunError, OSError):  # what cannot be read is no help, and no harm
            continue


def _may_hold(info: dict[str, Any]) -> bool:
    """Whether a run's pieces may be of this physics and these libraries: where they are not, no key can be ours."""
    versions = info.get("versions") or {}
    if info.get("physics_version", PHYSICS_VERSION) != PHYSICS_VERSION:
        return False
    return all(versions.get(name, version) == version for name, version in library_versions())


def _taken(study: Study, folder: Path, index: int, known: dict[str, Path]) -> bool:
    key, _ = key_of(study, index)
    if key not in known:
        return False
    try:
        content = Content.read(known[key])
    except BrokenPieceError:
        return False
    if content.key != key or content.record["status"] != "done":
        return False
    name = study.design_name(index)
    rewrite_piece(content, piece_path(folder, name), (index, name, origin(study)), first_columns(study, index))
    return True
