"""A run from its study to its report."""

import platform
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from studies.engine import Plan, carry_out, plan
from studies.errors import DiskSpaceError, NotARunError, StorageError
from studies.info_records import from_info
from studies.outputs import INFO, PIECES
from studies.pieces import NUMERICAL_LIBRARIES, piece_key
from studies.progress import progress
from studies.reuse import take_over
from studies.sizing import disk_fault
from studies.specification import Candidate
from studies.store import (
    arrays_of,
    claimed,
    layout,
    ours_in,
    prepare,
    read_info,
    read_run,
    study_hash,
    write_info,
)
from studies.stored import Run
from studies.storing import storing
from studies.study import Study
from studies.versions import installed_version
from studies.work import explained

if TYPE_CHECKING:
    from studies.cluster import Cluster

LIBRARIES = (*NUMERICAL_LIBRARIES, "pydantic", "h5netcdf", "h5py", "matplotlib")


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """A finished run, what was done for it, its report, and how many candidates came from other runs of the study."""

    run: Run
    todo: Plan
    report: Path
    seconds: float
    taken_over: int = 0


def run_study(study: Study, folder: Path, workers: "int | Cluster", fresh: bool) -> Outcome:
    """Run a study into ``folder`` by local processes or on a cluster, carrying on where an earlier run of it stopped.

    Raises
    ------
    RunError
        Where the folder is taken, cannot be written (or no longer), or has no room for the run.
    """
    start = time.monotonic()
    with storing(folder), claimed(folder, ours_in(folder)):
        prepare(folder, study, fresh)
        taken_over = 0 if fresh else take_over(study, folder)
        todo = plan(study, folder)
        _check_room(study, folder, todo.count)
        info = _started(study, folder, workers if isinstance(workers, int) else len(workers.running()))
        write_info(folder, info)
        if todo.count:
            with progress(todo.count, study.name) as count:
                if isinstance(workers, int):
                    carry_out(study, folder, todo, workers, count)
                else:
                    from studies.cluster_engine import carry_out_on

                    carry_out_on(workers, study, folder, todo, count)
        spent = time.monotonic() - start
        return Outcome(*_closed(folder, info, todo, spent), seconds=spent, taken_over=taken_over)


def _check_room(study: Study, folder: Path, designs: int) -> None:
    """Refuse what would fill the disk hours later."""
    grid = study.base.grid
    short = disk_fault(designs, len(grid.heights) * len(grid.offsets) * len(grid.tilts), folder)
    if short is not None:
        raise DiskSpaceError(
            f"{short}: fewer designs or places, or another disk with --out; nothing was computed, what is stored stays"
        )


def _started(study: Study, folder: Path, workers: int) -> dict[str, Any]:
    known = read_info(folder) if (folder / INFO).exists() else {}
    return {
        "study": study.name,
        "study_hash": study_hash(study),
        "status": "running",
        "designs": study.count,
        **layout(),
        "versions": {
            "python": platform.python_version(),
            **{name: installed_version(name) for name in ("trivet", *LIBRARIES)},
        },
        "settings": {"workers": workers, "accuracy": study.base.accuracy, "frequency_Hz": study.base.frequency},
        "started": known.get("started", datetime.now(UTC).isoformat(timespec="seconds")),
        "elapsed_s": known.get("elapsed_s"),
        "surroundings": known.get("surroundings"),
        "evidence": known.get("evidence"),
    }


def _closed(folder: Path, info: dict[str, Any], todo: Plan, spent: float) -> tuple[Run, Plan, Path]:
    """Join the pieces into tables, write the report, and close ``run.json``."""
    from studies.report import write_report
    from studies.stored_plane import keep_plane
    from studies.tables import write_tables

    run = read_run(folder)
    study = run.study
    if len(run.designs) < study.count:
        raise StorageError(
            f"{study.count - len(run.designs)} of {study.count} stored designs are gone from {folder / PIECES}: "
            "something else removed them; the same command computes them again"
        )
    info = info | {
        "status": "complete",
        "finished": datetime.now(UTC).isoformat(timespec="seconds"),
        "elapsed_s": round(spent, 3) if todo.count else info["elapsed_s"],
        "seconds": {d.design: round(d.seconds, 3) for d in run.designs},
        "mesh_triangles": {d.design: d.row.get("mesh_triangles") for d in run.designs},
        "errors": {d.design: d.message for d in run.designs if d.status == "failed"},
        "warnings": {d.design: list(d.warnings) for d in run.designs if d.warnings},
        "recomputed": [*todo.broken, *todo.outdated],
    }
    write_tables(run)
    info |= _base_records(study, info)
    run = Run(run.folder, run.study, run.designs, info)
    keep_plane(run)
    report = write_report(run, lambda stored: arrays_of(run, stored))
    write_info(folder, info)
    return run, todo, report


def _base_records(study: Study, info: dict[str, Any]) -> dict[str, Any]:
    """What ``run.json`` says of the base design."""
    return {
        "surroundings": _surroundings(study, info["surroundings"]),
        "evidence": base_evidence(study, info["evidence"]),
    }


def _surroundings(study: Study, known: dict[str, Any] | None) -> dict[str, Any]:
    """What each layer and solid of the base design does."""
    from studies.surroundings import Surroundings, surroundings

    return _of_base_design(study.base, Surroundings, "surroundings", known, lambda: surroundings(study.base).record())


def base_evidence(study: Study, known: dict[str, Any] | None) -> dict[str, Any]:
    """What the base design says of the solves' accuracy."""
    from studies.evidence import Evidence, evidence

    base = replace(study.base, formulation=study.formulation)
    return _of_base_design(base, Evidence, "evidence", known, lambda: evidence(base).record())


def _of_base_design(
    base: Candidate, kind: type, what: str, known: dict[str, Any] | None, compute: Callable[[], dict[str, Any]]
) -> dict[str, Any]:
    """A record for ``run.json``, computed anew only where the base design has changed or it cannot be read."""
    key = piece_key(base, what)
    if known is not None and known.get("key") == key and "found" in known:
        with suppress(NotARunError):
            from_info(kind, known["found"], what)
            return known
    try:
        return {"key": key, "found": compute()}
    except Exception as fault:  # a sweep's base design need not work: the run does not hang on it
        return {"key": key, "fault": explained(fault)}
