"""Whether one map of a study fits the memory of this machine, and all of them its disk.

Maps go to disk one by one: memory holds one a worker, however many designs there are.
"""

import os
import shutil
from pathlib import Path

MAP_VARIABLES = 9
"""Real numbers kept for each place: M and the worst M (two each), its error, k, chip voltage, two margins."""

BYTES_EACH = 8

COPIES = 2
"""A map lies in its candidate's own file, and in ``maps.nc``."""

BYTES_BESIDE = 40_000
"""A candidate's row, lines of margin against height and place in the tables, roughly [bytes]."""


def map_bytes(designs: int, places: int) -> int:
    """Size of the maps of so many designs [bytes]."""
    return designs * places * MAP_VARIABLES * BYTES_EACH


def disk_bytes(designs: int, places: int) -> int:
    """Room that so many designs take in a run folder [bytes]."""
    return COPIES * map_bytes(designs, places) + designs * BYTES_BESIDE


def free_disk(folder: Path) -> int | None:
    """Room on the disk where ``folder`` is or would be [bytes]; None where nothing tells."""
    for place in (folder.absolute(), *folder.absolute().parents):
        try:
            return shutil.disk_usage(place).free
        except FileNotFoundError:
            continue
        except OSError:
            return None
    return None


def disk_fault(designs: int, places: int, folder: Path) -> str | None:
    """What is wanted and what there is, where the disk has no room for so many designs; else None."""
    wanted, free = disk_bytes(designs, places), free_disk(folder)
    if free is None or wanted <= free:
        return None
    taken = f"{designs} designs of {places} places take about {wanted / 1e9:.3g} GB on disk"
    return f"{taken}, where {free / 1e9:.3g} GB are free"


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


def memory_fault(places: int) -> tuple[str, str] | None:
    """What is too large and what is allowed, where the map of one design does not fit; else None."""
    wanted, free = map_bytes(1, places), available_memory()
    if free is None or wanted <= free:
        return None
    given = f"a map of {places} places needs {wanted / 1e9:.3g} GB"
    return given, f"at most {free / 1e9:.3g} GB, the free memory of this machine: fewer places"
