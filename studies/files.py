"""Files that are whole or not there: written under another name, flushed, then put in place."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

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
