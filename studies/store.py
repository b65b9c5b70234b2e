"""The run folder: who may write in it, what it holds, and how it is read back."""

import fcntl
import json
import os
import shutil
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any

from studies.errors import FolderTakenError, NewerRunError, NotARunError
from studies.files import RESULTS, at_fault, remove_partials, write_text
from studies.outputs import BENCH, INFO, LOCK, OURS, PIECES, STUDY
from studies.pieces import PHYSICS_VERSION, STORE_VERSION, BrokenPieceError, read_arrays, read_record
from studies.sampling import LISTED
from studies.stored import Arrays, Run, StoredDesign
from studies.study import Study, read_study

INFO_KINDS: dict[str, type | tuple[type, ...]] = {
    "study": str, "study_hash": str, "status": str, "started": str, "finished": str, "elapsed_s": (int, float),
    "versions": dict, "settings": dict, "seconds": dict, "surroundings": dict, "evidence": dict, "errors": dict,
    "warnings": dict,
}  # fmt: skip
"""What ``run.json`` holds under a name, where it is not null."""


def study_hash(study: Study) -> str:
    """Digest of what a study says; comments and spacing do not count."""
    said: list[object] = [study.name, study.raw, study.axes]
    if study.sampling is not None and study.sampling.method == LISTED:
        said.append(LISTED)  # other designs than the product of the same lists
    return sha256(json.dumps(said, sort_keys=True, default=str).encode()).hexdigest()


def default_folder(study: Study) -> Path:
    """``results/<study>/<run>``, the run named after what the study says: the same study finds its run again."""
    return RESULTS / study.name / study_hash(study)[:10]


@contextmanager
def claimed(folder: Path, ours: Collection[str] | None = None) -> Iterator[None]:
    """Hold ``folder`` for one run; a second one is told so at once.

    Raises
    ------
    FolderTakenError
        While another run is at work there, or where it holds something besides ``ours``; nothing is then left there.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if ours is not None:
            refuse_strangers(folder, ours)
        lock = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as fault:
        advice = "see to that" if ours is None else "choose another with --out"
        raise FolderTakenError(
            f"the run folder {folder} cannot be written: {fault.strerror}{at_fault(fault)}; {advice}"
        ) from fault
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            advice = "wait for it" if ours is None else "wait for it, or choose another folder with --out"
            raise FolderTakenError(f"another run is at work in {folder}; {advice}") from fault
        yield
    finally:
        os.close(lock)


def ours_in(folder: Path) -> Collection[str]:
    """Names that may be in a run's folder before it is carried on: none where there is no run yet."""
    if not (folder / INFO).exists():
        return ()
    return (*OURS, *(entry.name for entry in folder.glob(f"{BENCH}*") if entry.is_dir()))


def refuse_strangers(folder: Path, ours: Collection[str]) -> None:
    """See that a folder holds nothing but what is ``ours``, names with a leading dot apart.

    Raises
    ------
    FolderTakenError
        With the first of what else it holds.
    """
    strangers = sorted(
        entry.name for entry in folder.iterdir() if entry.name not in ours and not entry.name.startswith(".")
    )
    if strangers:
        raise FolderTakenError(
            f"{folder} holds other things ({', '.join(strangers[:3])}); give --out an empty or a new folder"
        )


def prepare(folder: Path, study: Study, fresh: bool) -> None:
    """Make ``folder`` ready for a study's run, or see that it already is one of the same study.

    Raises
    ------
    FolderTakenError
        Where it holds another study's run (unless ``fresh``) or anything that is no run.
    NewerRunError
        Where a newer trivet wrote it, ``fresh`` or not.

    Notes
    -----
    ``run.json`` is the first thing written to a folder and the last one cleared from it: where there is none, whatever
    lies there is not ours, a study file or a report of somebody's own included.
    """
    refuse_strangers(folder, ours_in(folder))
    ours, digest = (folder / INFO).exists(), study_hash(study)
    if ours:
        _refuse_newer(folder, fresh)
    if fresh:
        _clear(folder)
    elif ours and read_info(folder).get("study_hash") != digest:
        raise FolderTakenError(
            f"{folder} holds the run of another study, or of this one before it was changed; "
            "give --out another folder (what still holds is taken over from runs beside it), or replace this one by "
            "run --fresh"
        )
    if not (folder / INFO).exists():
        write_info(folder, {"study": study.name, "study_hash": digest, "status": "running", **layout()})
    (folder / PIECES).mkdir(exist_ok=True)
    remove_partials(folder)
    remove_partials(folder / PIECES)
    write_text(folder / STUDY, study.text)


def layout() -> dict[str, int]:
    """What tells an older trivet to leave a run alone."""
    return {"store_version": STORE_VERSION, "physics_version": PHYSICS_VERSION}


def _refuse_newer(folder: Path, mend: bool = False) -> dict[str, Any]:
    """What ``run.json`` says, unless a newer trivet wrote it; with ``mend``, nothing where it is broken."""
    try:
        info = read_info(folder)
    except NotARunError:
        if mend:
            return {}
        raise
    for name, known in layout().items():
        written = info.get(name)
        if isinstance(written, int) and written > known:
            raise NewerRunError(
                f"{folder} was written by a newer trivet ({name.replace('_', ' ')} {written}; this one knows {known}) "
                "and is left as it is: use that trivet, or give --out another folder"
            )
    return info


def _clear(folder: Path) -> None:
    for name in (*(name for name in OURS if name not in (LOCK, INFO)), INFO):
        path = folder / name
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


def piece_path(folder: Path, design: str) -> Path:
    """File of one candidate's result."""
    return folder / PIECES / f"{design}.npz"


def write_info(folder: Path, info: dict[str, Any]) -> None:
    """Write ``run.json``."""
    write_text(folder / INFO, json.dumps(info, indent=2) + "\n")


def read_info(folder: Path) -> dict[str, Any]:
    """Read ``run.json``.

    Raises
    ------
    NotARunError
        Where it is missing or broken.
    """
    try:
        info = json.loads((folder / INFO).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as fault:
        reason = getattr(fault, "strerror", None) or "it is no JSON"
        raise NotARunError(f"{folder} holds no run that can be read ({INFO}: {reason})") from fault
    wrong = _wrong_shape(info)
    if wrong:
        raise NotARunError(f"{folder} holds no run that can be read ({INFO}: {wrong})")
    return dict(info)


def _wrong_shape(info: object) -> str:
    """What of ``run.json`` is not what it is to be, in words; empty where all of it is."""
    if not isinstance(info, dict):
        return "it is no table of names and values"
    for name, kinds in INFO_KINDS.items():
        if name in info and info[name] is not None and not isinstance(info[name], kinds):
            return f'"{name}" is of another kind'
    if not all(isinstance(value, int | float) for value in (info.get("seconds") or {}).values()):
        return '"seconds" holds something else than numbers'
    return ""


def read_run(folder: Path) -> Run:
    """Read a run, complete or not: its study, and every candidate stored so far.

    Raises
    ------
    NotARunError, NewerRunError, StudyFaults
        Where there is none, a newer trivet wrote it, or its parts are broken.
    """
    if not folder.is_dir():
        raise NotARunError(f"{folder} is not a folder; a run lies in results/<study>/<run>")
    info = _refuse_newer(folder)
    study = read_study(folder / STUDY)
    if info.get("study_hash") != study_hash(study):
        raise NotARunError(
            f"{folder / STUDY} is not the study that was run here: it was changed since, or {INFO} was. Put it back, "
            "or run the changed one into a folder of its own"
        )
    found = []
    for index in range(study.count):
        path = piece_path(folder, study.design_name(index))
        if path.exists():
            try:
                found.append(_stored(path, index))
            except BrokenPieceError as fault:
                raise NotARunError(f"a stored candidate is broken ({fault}); `trivet run` computes it again") from fault
    return Run(folder, study, tuple(found), info)


def _stored(path: Path, index: int) -> StoredDesign:
    """The record of the candidate at a place of the sweep.

    Raises
    ------
    BrokenPieceError
        Where the file is not whole, or holds another candidate than its name says.
    """
    stored = read_record(path)[1]
    if (stored.design, stored.index) != (path.stem, index):
        raise BrokenPieceError(f"{path.name}: it holds {stored.design}")
    return stored


def arrays_of(run: Run, stored: StoredDesign) -> Arrays:
    """Map and lines of one candidate of a run."""
    return read_arrays(piece_path(run.folder, stored.design))
