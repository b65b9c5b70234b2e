"""What becomes of a run whose disk fills up, or whose folder goes away under it."""

from collections.abc import Iterator
from contextlib import contextmanager
from errno import EACCES, EDQUOT, EFBIG, EIO, ENODEV, ENOENT, ENOSPC, ENOTDIR, EPERM, EROFS, ESTALE
from pathlib import Path

from studies.errors import NotARunError, StorageError
from studies.files import at_fault
from studies.outputs import PIECES

FULL = (ENOSPC, EDQUOT, EFBIG)
UNWRITABLE = (*FULL, EACCES, EPERM, EROFS, EIO, ESTALE, ENODEV, ENOENT, ENOTDIR)


@contextmanager
def storing(folder: Path) -> Iterator[None]:
    """Turn what goes wrong with a run's folder, here or in a worker, into one fault fit for the designer.

    Raises
    ------
    StorageError
        In place of the system's own.
    """
    try:
        yield
    except NotARunError as fault:
        if (folder / PIECES).is_dir():
            raise
        raise StorageError(_gone(folder)) from fault
    except OSError as fault:
        if fault.errno not in UNWRITABLE:
            raise
        if fault.errno in (ENOENT, ENOTDIR) and not (folder / PIECES).is_dir():
            raise StorageError(_gone(folder)) from fault
        remedy = "make room there" if fault.errno in FULL else "see to that"
        raise StorageError(
            f"the run folder {folder} can no longer be written: {fault.strerror}{at_fault(fault)}. What was finished "
            f"is stored; {remedy}, and the same command carries on from there"
        ) from fault


def _gone(folder: Path) -> str:
    if folder.is_dir():
        return (
            f"{folder / PIECES} was removed while the run was at work, and the designs in it with it: "
            "the same command computes them again"
        )
    return (
        f"the run folder {folder} was removed, or its disk taken away, while the run was at work: "
        "the same command begins it anew, or carries on where the folder comes back"
    )
