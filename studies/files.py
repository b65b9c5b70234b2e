"""Files that are whole or not there: written under another name, flushed, then put in place."""

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryFile

from studies.errors import RunError

PARTIAL = ".partial"
RESULTS = Path("results")
"""Where runs land, in the folder from which the command is called."""


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A name to write to; what was written takes the place of ``path`` only when the block ends well."""
    partial = path.with_name(f".{path.name}.{os.getpid()}{PARTIAL}")
    try:
        yield partial
        with partial.open("rb") as written:
            os.fsync(written.fileno())
        os.replace(partial, path)
    finally:
        with suppress(OSError):  # of a disk that is read-only or gone: what went wrong first is told
            partial.unlink(missing_ok=True)


@contextmanager
def all_or_none(paths: Iterable[Path]) -> Iterator[None]:
    """Files none of which was there before, and none of which stays where the block does not end well."""
    try:
        yield
    except BaseException:
        for path in paths:
            with suppress(OSError):
                path.unlink(missing_ok=True)
        raise


def at_fault(fault: OSError) -> str:
    """The name of the file that a fault of the system's is of, in brackets; empty where it names none."""
    return f" ({Path(fault.filename).name})" if isinstance(fault.filename, str) else ""


def check_writable(path: Path, option: str = "--out") -> None:
    """See before minutes of work that a file can be written; the folder that it is to lie in is made.

    Raises
    ------
    RunError
        Where it cannot.
    """
    if path.is_dir():
        raise RunError(f"{path} is a folder; give the name of a file with {option}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with TemporaryFile(dir=path.parent):
            pass
    except OSError as fault:
        where = f" ({fault.filename})" if isinstance(fault.filename, str) else ""
        raise RunError(f"{path} cannot be written: {fault.strerror}{where}") from None


def write_text(path: Path, text: str) -> None:
    """Write ``text`` as UTF-8, whole or not at all."""
    with whole_file(path) as partial:
        partial.write_text(text, encoding="utf-8")


def write_bytes(path: Path, content: bytes) -> None:
    """Write ``content``, whole or not at all."""
    with whole_file(path) as partial:
        partial.write_bytes(content)


def remove_partials(folder: Path) -> None:
    """Clear away what killed runs left half written in ``folder``."""
    for leftover in folder.glob(f".*{PARTIAL}"):
        leftover.unlink(missing_ok=True)
