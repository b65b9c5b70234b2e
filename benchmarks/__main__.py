"""``python -m benchmarks``: how long the command, a design, sweeps and the demo take; a JSON record and a picture.

``python -m benchmarks sweeps`` and the like measure one part only.
"""

import json
import os
import platform
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks.growth import draw, growth
from benchmarks.solve_cost import solve_cost
from benchmarks.sweeps import TRIVET, map_against_places, sweep_against_solves, workers_against_one
from benchmarks.timing import printed, seconds, summary

RECORDS = Path(__file__).parent / "records"
DEMO = "studies/library/culture-bench.toml"

ONE_DESIGN = """
import sys, time
from pathlib import Path
import scipy.interpolate, skfem, gmsh  # Python up: libraries loaded
from studies.evaluation import evaluated
from studies.study import read_study
start = time.perf_counter()
evaluated(read_study(Path(sys.argv[1])).base)
print(time.perf_counter() - start)
"""


def one_design(study: str, runs: int) -> dict[str, float]:
    """From study file to map, each time in a new process: nothing is left over from the one before."""
    return summary([float(printed(ONE_DESIGN, study)) for _ in range(runs)])


def demo(workers: int) -> float:
    """The whole demo with its report [s]."""
    with tempfile.TemporaryDirectory() as folder:
        command = [TRIVET, "run", DEMO, "--workers", str(workers), "--out", str(Path(folder) / "run")]
        start = time.perf_counter()
        printed("import subprocess, sys; subprocess.run(sys.argv[1:], check=True)", *command)
        return time.perf_counter() - start


def small_things(_: Path) -> dict[str, Any]:
    """The command and single designs, each in a new process."""
    return {
        "bare python": summary(seconds([sys.executable, "-c", "pass"], 5)),
        "trivet --help": summary(seconds([TRIVET, "--help"], 5)),
        "one design, first-look": one_design("studies/library/first-look.toml", 3),
        "one design, culture-bench": one_design(DEMO, 3),
    }


def demos(_: Path) -> dict[str, Any]:
    """The demo with one worker and with two."""
    one, two = demo(1), demo(2)
    return {"one worker_s": one, "two workers_s": two, "ratio": one / two}


PARTS: dict[str, Callable[[Path], dict[str, Any]]] = {
    "small": small_things,
    "demo": demos,
    "solve": lambda _: solve_cost(),
    "places": lambda _: map_against_places(),
    "sweeps": sweep_against_solves,
    "workers": workers_against_one,
    "growth": growth,
}
"""What there is to measure, each given a folder for its files."""


def main(wanted: list[str]) -> None:
    """Measure, write the record, and draw what grows."""
    unknown = [name for name in wanted if name not in PARTS]
    if unknown:
        sys.exit(f"no such part: {', '.join(unknown)}; there are {', '.join(PARTS)}")
    taken = datetime.now(UTC)
    record: dict[str, Any] = {
        "taken": taken.isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "machine": platform.machine(),
        "cores": os.cpu_count(),
        "load before": os.getloadavg()[0],
    }
    RECORDS.mkdir(exist_ok=True)
    path = RECORDS / f"{taken:%Y-%m-%dT%H%M%SZ}.json"
    with tempfile.TemporaryDirectory() as folder:
        for name in wanted or PARTS:
            record[name] = PARTS[name](Path(folder))
            print(json.dumps({name: record[name]}, indent=2), flush=True)
            path.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")  # what is measured is kept
    if "growth" in record:
        draw(record["growth"], path.with_suffix(".png"))
        print(f"Picture: {path.with_suffix('.png')}", file=sys.stderr)
    print(f"Record: {path}", file=sys.stderr)


main(sys.argv[1:])
