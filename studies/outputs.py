"""What a run's folder holds, and where else a command may write; nothing heavy is loaded for it."""

from pathlib import Path

from studies.errors import RunError
from studies.files import check_writable

STUDY, INFO, PIECES, LOCK, PLANE = "study.toml", "run.json", "designs", ".lock", "plane.json"
OURS = (
    STUDY,
    INFO,
    PIECES,
    LOCK,
    "designs.csv",
    "states.csv",
    "vessels.csv",
    "verdicts.csv",
    "maps.nc",
    PLANE,
    "report.html",
    "review.html",
    "figures",
    "compare",
)
"""What lies in a run's folder; what begins with `BENCH` besides."""

KEPT = tuple(name for name in OURS if name != "compare")
"""What of it no other command may put anything in the place of."""

BENCH = "bench-"


def check_target(path: Path, *read: Path, option: str = "--out") -> None:
    """See before minutes of work that a file can be written, over nothing that was read and nothing of a run.

    The folder that it is to lie in is made.

    Parameters
    ----------
    path : Path
        Of the file.
    *read : Path
        Files that the command reads.
    option : str
        With which the file was given.

    Raises
    ------
    RunError
        Where it cannot, or must not.
    """
    for other in read:
        if path.resolve() == other.resolve():
            raise RunError(f"{option} {path} is what was to be read; give another name")
    _refuse_in_run(path, option)
    check_writable(path, option)


def _refuse_in_run(path: Path, option: str) -> None:
    """See that a file or folder is nothing that a run keeps for itself."""
    whole = path.resolve()
    for folder in whole.parents:
        if (folder / INFO).is_file() and whole.relative_to(folder).parts[0] in KEPT:
            raise RunError(f"{option} {path} is a run's own ({folder.name}); give another name")


def check_folder(path: Path, option: str = "--out") -> None:
    """See that a folder that pages are to be put into can be made, and is nothing of a run's own.

    Raises
    ------
    RunError
        Where it is.
    """
    _refuse_in_run(path, option)
    if (path / INFO).is_file():
        raise RunError(f"{option} {path} is a run; give a folder of its own")
    check_writable(path / "page", option)
