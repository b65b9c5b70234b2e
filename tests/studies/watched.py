"""What the kernel saw happen to a folder's files: each one put in place, or taken away. Linux."""

import ctypes
import os
import struct
from collections import Counter
from pathlib import Path

MOVED_TO, DELETED, MOVED_FROM, OVERFLOW = 0x80, 0x200, 0x40, 0x4000
_HEAD = struct.Struct("iIII")


class Watched:
    """Counts how often a file took its name, and how often one lost it, from now on; nothing escapes it."""

    def __init__(self, folder: Path) -> None:
        library = ctypes.CDLL(None, use_errno=True)
        self._events = library.inotify_init1(os.O_NONBLOCK | os.O_CLOEXEC)
        kinds = MOVED_TO | MOVED_FROM | DELETED
        if self._events < 0 or library.inotify_add_watch(self._events, os.fsencode(folder), kinds) < 0:
            raise OSError(ctypes.get_errno(), "the folder cannot be watched")
        self.placed: Counter[str] = Counter()
        self.taken: Counter[str] = Counter()

    def look(self) -> None:
        """Take in what happened since the last look."""
        while True:
            try:
                content = os.read(self._events, 1 << 20)
            except BlockingIOError:
                return
            at = 0
            while at < len(content):
                _, kind, _, length = _HEAD.unpack_from(content, at)
                name = content[at + _HEAD.size : at + _HEAD.size + length].rstrip(b"\0").decode()
                assert not kind & OVERFLOW, "look more often: the kernel kept no more events"
                (self.placed if kind & MOVED_TO else self.taken)[name] += 1
                at += _HEAD.size + length

    def close(self) -> None:
        """Watch no longer."""
        os.close(self._events)
