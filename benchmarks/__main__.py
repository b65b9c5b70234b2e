"""``python -m benchmarks``: how long the command, one design and the demo take; a JSON record of it."""

import json
import platform
import sys
import sysconfig
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks.timing import printed, seconds, summary

RECORDS = Path(__file__).parent / "records"
TRIVET = str(Path(sysconfig.get_path("scripts")) / "trivet")
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


def main() -> None:
    """Run everything and write the record."""
    record: dict[str, Any] = {
        "taken": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "machine": platform.machine(),
        "bare python": summary(seconds([sys.executable, "-c", "pass"], 5)),
        "trivet --help": summary(seconds([TRIVET, "--help"], 5)),
        "one design, first-look": one_design("studies/library/first-look.toml", 3),
        "one design, culture-bench": one_design(DEMO, 3),
        "demo, one worker": demo(1),
        "demo, two workers": demo(2),
    }
    record["two workers against one"] = record["demo, one worker"] / record["demo, two workers"]
    RECORDS.mkdir(exist_ok=True)
    path = RECORDS / f"{datetime.now(UTC):%Y-%m-%dT%H%M%SZ}.json"
    path.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    print(json.dumps(record, indent=2))
    print(f"Record: {path}", file=sys.stderr)


main()
