"""Whether the maps of a study fit the memory of this machine."""

import os
from pathlib import Path

MAP_VARIABLES = 6
"""Real numbers kept for each place: M (two), k, chip voltage, margin, and one for errors."""

BYTES_EACH = 8


def map_bytes(designs: int, places: int) -> int:
    """Memory that the maps of a whole study take [bytes]."""
    return designs * places * MAP_VARIABLES * BYTES_EACH


def available_memory() -> int | None:
    """Memory free for use on this machine, or in its container [bytes]; None where neither says."""
    known = [size for size in (_free_memory(), _container_limit()) if size is not None]
    return min(known, default=None)


def _container_limit() -> int | None:
    try:
        return int(Path("/sys/fs/cgroup/memory.max").read_text(encoding="ascii"))
    except (OSError, ValueError):  # no container, or the word "max"
        return None


def _free_memory() -> int | None:
    try:
        lines = Path("/proc/meminfo").read_text(encoding="ascii").splitlines()
        return next(int(line.split()[1]) * 1024 for line in lines if line.startswith("MemAvailable"))
    except (OSError, ValueError, StopIteration):
        pass
    try:
        return os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (OSError, ValueError, AttributeError):
        return None


def memory_fault(designs: int, places: int) -> tuple[str, str] | None:
    """What is too large and what is allowed, where the maps of a study do not fit; else None."""
    wanted, free = map_bytes(designs, places), available_memory()
    if free is None or wanted <= free:
        return None
    given = f"{designs} designs of {places} places need {wanted / 1e9:.3g} GB for their maps"
    return given, f"at most {free / 1e9:.3g} GB, the free memory of this machine: fewer designs or fewer places"
