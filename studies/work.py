"""What a worker process does: one candidate after another, each on disk before it is counted."""

import os
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from hashlib import sha256
from multiprocessing import parent_process
from pathlib import Path

from fem.errors import FieldError
from geometries.errors import GeometryError, MeshingError
from links.errors import LinkError
from studies.errors import RunError
from studies.evaluation import evaluated
from studies.faults import StudyFaults
from studies.files import write_bytes
from studies.outputs import STUDY
from studies.pieces import made_with, piece_bytes, piece_key, write_piece
from studies.rows import Row
from studies.specification import Candidate
from studies.store import piece_path, study_hash
from studies.stored import StoredDesign
from studies.study import Study, read_study
from studies.versions import code_digest

EXPLAINED = (GeometryError, MeshingError, FieldError, LinkError, RunError, StudyFaults)
"""Faults whose text is fit for the designer."""


def watch_parent() -> None:
    """End this process when the run that started it is gone, however and whenever that ended."""
    parent = parent_process()
    assert parent is not None, "only a worker process watches its parent"

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@lru_cache(maxsize=1)
def _study(path: Path) -> tuple[Study, str]:
    """The study and its `origin`, which takes milliseconds where thousands of values are swept."""
    study = read_study(path)
    return study, origin(study)


def compute(folder: Path, indices: tuple[int, ...]) -> list[tuple[int, str, float]]:
    """Compute candidates of the study in ``folder`` and store them; (index, status, seconds) of each, now on disk."""
    study, mine = _study(folder / STUDY)
    results, writes = list[tuple[int, str, float]](), []
    with ThreadPoolExecutor(1) as writer:  # a disk takes milliseconds to say that it has a piece: the next one goes on
        for index in indices:
            stored, content = computed(study, index, mine)
            writes.append(writer.submit(write_bytes, piece_path(folder, stored.design), content))
            results.append((index, stored.status, stored.seconds))
    for write in writes:
        write.result()
    return results


def compute_one(study: Study, folder: Path, index: int) -> tuple[int, str, float]:
    """Compute and store one candidate."""
    stored, content = computed(study, index)
    write_bytes(piece_path(folder, stored.design), content)
    return index, stored.status, stored.seconds


def computed(study: Study, index: int, mine: str | None = None) -> tuple[StoredDesign, bytes]:
    """One candidate's result, and its piece as it is stored; ``mine`` is the study's `origin` where that is known."""
    start = time.perf_counter()
    mine = mine or origin(study)
    candidate, evaluation, message = None, None, ""
    try:
        candidate = study.candidate(index)
        evaluation = evaluated(candidate)
    except Exception as fault:  # whatever it is, the other candidates go on
        message = explained(fault)
    head, spent = first_columns(study, index), time.perf_counter() - start
    if evaluation is None:
        row = head | {"status": "failed", "message": message}
        stored = StoredDesign(index, study.design_name(index), "failed", message, row, seconds=spent, origin=mine)
    else:
        row = head | evaluation.row | {"status": "done", "message": ""}
        stored = StoredDesign(
            index,
            study.design_name(index),
            "done",
            "",
            row,
            evaluation.verdict.checks,
            evaluation.warnings,
            evaluation.cautions,
            spent,
            mine,
        )
    return stored, piece_bytes(piece_key(candidate, message), stored, evaluation)


def explained(fault: Exception) -> str:
    """What went wrong, in words for the designer."""
    text = " ".join(str(fault).split())
    if isinstance(fault, EXPLAINED):
        return text
    if isinstance(fault, MemoryError):
        return "out of memory: fewer workers, a coarser accuracy or fewer places in the map may do"
    return f"trivet met a fault of its own ({type(fault).__name__}: {text}); please report it with the study file"


def store_death(study: Study, folder: Path, index: int, message: str) -> None:
    """Store that a candidate could not be computed because its worker kept dying."""
    row = first_columns(study, index) | {"status": "failed", "message": message}
    stored = StoredDesign(index, study.design_name(index), "failed", message, row)
    write_piece(piece_path(folder, stored.design), piece_key(None, "worker died"), stored, None)


def first_columns(study: Study, index: int) -> Row:
    """A row's beginning: the design's name and its swept values."""
    return {"design": study.design_name(index), **dict(study.swept(index))}


def key_of(study: Study, index: int) -> tuple[str, Candidate | None]:
    """Key under which a candidate's piece holds, and the candidate where it can be built."""
    try:
        candidate = study.candidate(index)
    except Exception as fault:
        return piece_key(None, explained(fault)), None
    return piece_key(candidate, ""), candidate


def origin(study: Study) -> str:
    """What makes a piece hold without another look: the same study, run by the same code on the same libraries."""
    return sha256(f"{study_hash(study)}\n{made_with()}\n{code_digest()}".encode()).hexdigest()
