"""Processes timed from outside, in the environment a user has."""

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from statistics import median

SLOWING = ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")
"""Settings that some machines carry for old builds of a library and that slow a current one."""


def environment() -> dict[str, str]:
    """This process's environment without what slows numpy, one BLAS thread a process."""
    kept = {name: value for name, value in os.environ.items() if name not in SLOWING}
    return kept | {"OPENBLAS_NUM_THREADS": "1"}


def seconds(command: Sequence[str], runs: int) -> list[float]:
    """Wall time of each run of ``command`` [s], after one that is not counted."""
    found = []
    for _ in range(runs + 1):
        start = time.perf_counter()
        subprocess.run(command, env=environment(), check=True, capture_output=True)
        found.append(time.perf_counter() - start)
    return found[1:]


def printed(script: str, *arguments: str) -> str:
    """What a Python script prints."""
    command = [sys.executable, "-c", script, *arguments]
    return subprocess.run(command, env=environment(), check=True, capture_output=True, text=True).stdout


def summary(times: Sequence[float]) -> dict[str, float]:
    """Least, middle and greatest [s]."""
    return {"min_s": min(times), "median_s": median(times), "max_s": max(times)}
