"""What other runs of a study, of before it was changed, have computed already and still holds."""

from collections.abc import Iterator
from pathlib import Path

from studies.errors import RunError
from studies.pieces import BrokenPieceError, Content, rewrite_piece, sealed_key
from studies.store import PIECES, piece_path, read_info
from studies.study import Study
from studies.work import first_columns, key_of, origin


def take_over(study: Study, folder: Path) -> int:
    """Fill a run's folder with what still holds from runs of the same study's name beside it; how many there were.

    A piece is found by its key alone, whatever its candidate was called there, and is written anew under its name
    here. Only what was computed counts: a candidate that failed is given another try.
    """
    lacking = [index for index in range(study.count) if not piece_path(folder, study.design_name(index)).exists()]
    known = {key: path for path in _neighbours(study, folder) if (key := sealed_key(path)) is not None}
    if not known:
        return 0
    return sum(_taken(study, folder, index, known) for index in lacking)


def _neighbours(study: Study, folder: Path) -> Iterator[Path]:
    """Pieces of the other runs of the study."""
    for other in sorted(folder.absolute().parent.iterdir()):
        if other.name == folder.name or not (other / PIECES).is_dir():
            continue
        try:
            if read_info(other).get("study") == study.name:
                yield from (other / PIECES).glob("*.npz")
        except (RunError, OSError):  # what cannot be read is no help, and no harm
            continue


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
