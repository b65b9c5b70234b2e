"""A file that the HDF5 library writes to without ever being told that the disk is full.

Told so, it can neither close the file nor forget it, and crashes as the process ends. Here the first fault is kept for
whoever opened the file; what no longer goes to disk is held in memory until the file is closed, which has to be soon.
"""

from io import SEEK_CUR, SEEK_END, SEEK_SET
from pathlib import Path
from typing import BinaryIO


class Sink:
    """The file; ``fault`` is the first thing that went wrong, None while all is well."""

    def __init__(self, path: Path) -> None:
        self._file: BinaryIO = path.open("w+b", buffering=0)
        self._held: list[tuple[int, bytes]] = []
        self._at = 0
        self._end = 0
        self.fault: OSError | None = None

    def check(self) -> None:
        """Raise what went wrong."""
        if self.fault is not None:
            raise self.fault

    def seek(self, offset: int, whence: int = SEEK_SET) -> int:
        """Where the next byte goes."""
        self._at = {SEEK_SET: 0, SEEK_CUR: self._at, SEEK_END: self._end}[whence] + offset
        return self._at

    def tell(self) -> int:
        """Where the next byte goes."""
        return self._at

    def write(self, content: memoryview) -> int:
        """Write all of ``content``, to disk or, after a fault, to memory."""
        view, start, done = memoryview(content).cast("B"), self._at, 0
        if self.fault is None:
            try:
                self._file.seek(start)
                while done < len(view):
                    done += self._file.write(view[done:])
            except OSError as fault:
                self.fault = fault
        if self.fault is not None:
            self._held.append((start + done, bytes(view[done:])))
        self._at = start + len(view)
        self._end = max(self._end, self._at)
        return len(view)

    def read(self, size: int) -> bytes:
        """Read back ``size`` bytes."""
        content = bytearray(size)
        self.readinto(memoryview(content))
        return bytes(content)

    def readinto(self, room: memoryview) -> int:
        """Read back what was written; nothing but zeros where nothing was."""
        view, start = memoryview(room).cast("B"), self._at
        view[:] = bytes(len(view))
        try:
            self._file.seek(start)
            self._file.readinto(view)  # type: ignore[attr-defined]
        except OSError as fault:
            self.fault = self.fault or fault
        for at, content in self._held:
            first, last = max(at, start), min(at + len(content), start + len(view))
            if first < last:
                view[first - start : last - start] = content[first - at : last - at]
        self._at = start + len(view)
        return len(view)

    def truncate(self, size: int) -> int:
        """Make the file so long."""
        self._end = size
        if self.fault is None:
            try:
                self._file.truncate(size)
            except OSError as fault:
                self.fault = fault
        return size

    def flush(self) -> None:
        """Nothing is kept back."""

    def close(self) -> None:
        """Close the file."""
        self._file.close()
