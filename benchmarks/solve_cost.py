"""What one design's time goes to, part by part, and the share of the factorisation in it.

Run as a module it is the measured process itself: it prints one study's record. Seconds are of this process's own
processor time, so that a busy machine tells less on them; times spent inside another part count there and not twice.
"""

import json
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property, wraps
from pathlib import Path
from statistics import median
from types import FunctionType
from typing import Any

from benchmarks.timing import environment

STUDIES = ("culture-bench", "first-look", "heat-block")
"""A drum core over pan and meander; a stock part; a drum core in a block's well."""

RUNS = 5
OURS = ("geometries", "fem", "links", "studies")
FACTORISATION = "factorisation"

METHODS = {
    "element set-up": {"fem.elements": ("Elements", "Lines")},
    "error estimate": {"fem.estimate": ("TwoOrders",)},
}
"""Classes all of whose methods count as one part."""

SYSTEM = {
    FACTORISATION: ("_factors",),
    "assembly": ("reluctivity", "eddy", "element_matrices", "line_matrices", "loops", "matrix", "_free_matrix"),
    "right-hand sides": ("winding_load", "reaction_load"),
    "triangular solves": ("solve",),
}
"""Members of fem.system.System by part."""

FUNCTIONS = {
    "meshing": (("geometries.meshing", "section_mesh"), ("fem.refinement", "refined")),
    "values of a solution": (
        ("fem.sources", "induced_rings"),
        ("fem.tag_solution", "axial_moments"),
        ("fem.tag_solution", "polarisability"),
        ("fem.tag_solution", "field_square_length"),
        ("fem.boundary", "returned_flux_linkage"),
    ),
    "field of the rings": (("studies.coupling", "coupling_of"),),
    "map": (("fem.tag_map", "tag_map"),),
    "link": (("studies.linking", "profiles"), ("studies.linking", "linked"), ("studies.one_state", "_map_values")),
}

SOLVES = {"base": "base_solution", "tag": "tag_solution", "near metal": "near_metal"}
"""The three field solves of a design; each is the module and its function."""


class Stopwatch:
    """Processor time by part: the innermost part that is running takes it."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._running: list[str] = []
        self._since = 0.0

    def _charge(self) -> None:
        now = time.process_time()
        if self._running:
            part = self._running[-1]
            self.seconds[part] = self.seconds.get(part, 0.0) + now - self._since
        self._since = now

    @contextmanager
    def running(self, part: str) -> Iterator[None]:
        """Whatever runs inside counts as ``part``."""
        self._charge()
        self._running.append(part)
        try:
            yield
        finally:
            self._charge()
            self._running.pop()

    def timed(self, part: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """The function, its time counted as ``part``."""

        @wraps(function)
        def inner(*arguments: Any, **keywords: Any) -> Any:
            with self.running(part):
                return function(*arguments, **keywords)

        return inner


def our_modules() -> list[Any]:
    """Every module of the program that is loaded."""
    return [module for name, module in list(sys.modules.items()) if name.split(".")[0] in OURS and module is not None]


def replace(module: str, name: str, changed: Callable[[Any], Any]) -> None:
    """Put a changed function in the place of another wherever it has been imported."""
    old = getattr(sys.modules[module], name)
    new = changed(old)
    for one in our_modules():
        for key, value in list(vars(one).items()):
            if value is old:
                setattr(one, key, new)


def time_members(watch: Stopwatch, kind: type, part: str, names: tuple[str, ...] | None = None) -> None:
    """Count the members of a class as ``part``: all that compute, or those named."""
    for name, member in list(vars(kind).items()):
        if (names is None and name.startswith("__")) or (names is not None and name not in names):
            continue
        if isinstance(member, cached_property):
            member.func = watch.timed(part, member.func)
        elif isinstance(member, FunctionType):
            setattr(kind, name, watch.timed(part, member))


def watch_parts(watch: Stopwatch) -> None:
    """Time every part; the field solves themselves are counted too, each as a whole."""
    for part, classes in METHODS.items():
        for module, names in classes.items():
            for name in names:
                time_members(watch, getattr(sys.modules[module], name), part)
    for part, members in SYSTEM.items():
        time_members(watch, sys.modules["fem.system"].System, part, members)
    for part, functions in FUNCTIONS.items():
        for module, name in functions:
            replace(module, name, lambda function, part=part: watch.timed(part, function))


def watch_solves(found: dict[str, float]) -> None:
    """Add the processor time of each of the three field solves to ``found``, where it is not known already."""

    def changed(label: str, function: Any) -> Any:
        @wraps(function)
        def inner(*arguments: Any) -> Any:
            start = time.process_time()
            try:
                return function(*arguments)
            finally:
                found[label] = found.get(label, 0.0) + time.process_time() - start

        return inner

    for label, name in SOLVES.items():
        replace(f"fem.{name}", name, lambda function, label=label: changed(label, function))


def forget(cached: list[Any]) -> None:
    """As in a new process: nothing is known of an earlier design."""
    for function in cached:
        function.cache_clear()


def measured(study: str, runs: int) -> dict[str, Any]:
    """Record of one study's base design in this process; the run of median length of several, after one uncounted."""
    from studies.evaluation import evaluated
    from studies.study import read_study

    candidate = read_study(Path(f"studies/library/{study}.toml")).base
    evaluated(candidate)
    cached = [value for module in our_modules() for value in vars(module).values() if hasattr(value, "cache_clear")]
    watch, solves = Stopwatch(), dict[str, float]()
    watch_parts(watch)
    watch_solves(solves)
    records = []
    for _ in range(runs):
        forget(cached)
        watch.seconds.clear()
        solves.clear()
        with watch.running("everything else"):
            evaluated(candidate)
        total = sum(watch.seconds.values())
        records.append(
            {
                "seconds": total,
                "parts": dict(sorted(watch.seconds.items(), key=lambda entry: -entry[1])),
                "solves": dict(solves),
                "share of the factorisation": watch.seconds[FACTORISATION] / total,
            }
        )
    middle = median(sorted(record["seconds"] for record in records)[: 2 * (runs // 2) + 1])
    return min(records, key=lambda record: abs(record["seconds"] - middle))


def solve_cost(runs: int = RUNS) -> dict[str, Any]:
    """Each study's record: processor seconds in all, by part and by field solve, and the factorisation's share."""
    return {study: _in_new_process(study, runs) for study in STUDIES}


def _in_new_process(study: str, runs: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "benchmarks.solve_cost", study, str(runs)]
    ended = subprocess.run(command, env=environment(), check=True, capture_output=True, text=True)
    found: dict[str, Any] = json.loads(ended.stdout)
    return found


if __name__ == "__main__":
    print(json.dumps(measured(sys.argv[1], int(sys.argv[2]))))
