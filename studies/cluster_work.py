"""What a worker of a cluster does: says what it is, and computes one design at a time, returning its piece."""

import os
import sys
from functools import lru_cache
from pathlib import Path
from threading import Lock
from uuid import uuid4

_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
_numpy_was_loaded = "numpy" in sys.modules
ONE_THREAD = not _numpy_was_loaded or os.environ.get(_THREADS[0]) == "1"
"""Whether dense algebra runs on one thread here: too late to choose where numpy was loaded before."""
if not _numpy_was_loaded:
    os.environ.update(dict.fromkeys(_THREADS, "1"))

from studies.pieces import PHYSICS_VERSION  # noqa: E402 (numpy loads here)
from studies.study import Study, study_of  # noqa: E402
from studies.work import computed, origin  # noqa: E402

PROCESS = uuid4().hex
"""Tells a worker process from one that was started in its place, at the same address."""

_one_at_a_time = Lock()  # a worker may have several threads, the mesher has one state


def greeting() -> tuple[str, int, bool]:
    """What tells this process from others, the version of its physics, and whether dense algebra has one thread."""
    return PROCESS, PHYSICS_VERSION, ONE_THREAD


def piece(process: str, study: tuple[str, str], index: int) -> bytes | str | None:
    """One design's piece, as its file is to hold it; None where ``process`` is not this one: it died, and is another.

    ``study`` is the name of the study's file, for faults only, and its text. A fault is returned as text and never
    raised: one that cannot be pickled would be lost on its way, and the run would wait for ever.
    """
    if process != PROCESS:
        return None
    try:
        with _one_at_a_time:
            known, mine = _study(*study)
            return computed(known, index, mine)[1]
    except Exception as fault:
        return f"{type(fault).__name__}: {' '.join(str(fault).split())}"


@lru_cache(maxsize=1)
def _study(name: str, text: str) -> tuple[Study, str]:
    study = study_of(text, Path(name))
    return study, origin(study)
