"""What sweeps gain: against single solves, against solving each place, and by a second worker.

Everything runs from outside, as a user runs it, but for single places on the axis, which no command solves.
"""

import json
import re
import subprocess
import sysconfig
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchmarks.timing import environment, printed, seconds, summary

TRIVET = str(Path(sysconfig.get_path("scripts")) / "trivet")
DEMO = Path("studies/library/culture-bench.toml")

THOUSAND = """[sweep]
"base_coil.mean_diameter" = {{ from = "28 mm", to = "74 mm", count = {diameters} }}
"base_coil.radial_build" = {{ from = "2.6 mm", to = "5 mm", count = 8 }}
"base_coil.clearance" = {{ from = "0.5 mm", to = "1.5 mm", count = 5 }}

"""
"""Coils over the demo's stack, no two windings alike, forty for each diameter."""

STACKS = """[sweep]
"layers.plate.thickness" = {{ from = "3 mm", to = "5 mm", count = {count} }}
"layers.heater.thickness" = ["0.02 mm", "0.03 mm"]

"""
"""Stacks of their own, of which nothing is shared."""

PLACES = """
import json, sys, time
from pathlib import Path
import numpy as np
from fem.near_metal import two_coil_mutual_inductance, AxisProblem
from geometries.meshing import section_mesh
from geometries.plan import axis_plan
from studies.asked_places import height_range
from studies.coupling import coupling_of
from studies.evaluation import evaluated
from studies.solving import field_tag, solved_base, solved_coils, solved_tag
from studies.study import read_study

candidate = read_study(Path(sys.argv[1])).base
heights = np.array(candidate.grid.heights)
start = time.perf_counter()
coils = solved_coils(candidate)
solved = time.perf_counter()
coupling = coupling_of(candidate, coils)
offsets, tilts = np.array(candidate.grid.offsets), np.array(candidate.grid.tilts)
found = coupling.grid(heights, offsets, tilts)
mapped = time.perf_counter()
tag = field_tag(coils.tag.tag)
anew = []
for height in heights:
    plan = axis_plan(candidate.stack, coils.base.section, tag, float(height), candidate.frequency)
    problem = AxisProblem(
        candidate.stack, coils.base.section, tag, candidate.frequency, candidate.accuracy, float(height), float(height)
    )
    anew.append(two_coil_mutual_inductance(section_mesh(plan), problem) * coils.base.turns * coils.tag.tag.turns)
ended = time.perf_counter()
difference = np.abs(np.array(anew) / found.mutual_inductance[:, 0, 0] - 1.0)
print(json.dumps({
    "places": found.mutual_inductance.size, "fields_s": solved - start, "map_s": mapped - solved,
    "places anew": heights.size, "anew_s": ended - mapped, "largest difference": float(difference.max()),
}))
"""


def with_sweep(folder: Path, sweep: str, name: str, places: str = "") -> Path:
    """The demo with another sweep, and another map where one is given; nothing is required of it."""
    text = DEMO.read_text(encoding="utf-8")
    text = re.sub(r"\n\[sweep\]\n.*?(?=\n\[require\])", "\n" + sweep, text, flags=re.S)
    if places:
        text = re.sub(r"\[map\]\n.*?\n\n", f"[map]\n{places}\n\n", text, flags=re.S)
    path = folder / f"{name}.toml"
    path.write_text(text.replace('name = "culture-bench"', f'name = "{name}"'), encoding="utf-8")
    return path


def run_seconds(study: Path, workers: int) -> float:
    """Wall time of a whole run with its report, into a folder of its own [s]."""
    with tempfile.TemporaryDirectory() as folder:
        command = [TRIVET, "run", str(study), "--workers", str(workers), "--out", str(Path(folder) / "run")]
        return _timed(command)


def _timed(command: Sequence[str]) -> float:
    start = time.perf_counter()
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):  # 1: some candidates failed
        raise RuntimeError(f"{' '.join(command)} ended with {done.returncode}: {done.stderr[-500:]}")
    return time.perf_counter() - start


def map_against_places() -> dict[str, Any]:
    """(a) A design with its map against every place of its axis solved anew with the tag meshed, a place each."""
    record = dict(json.loads(printed(PLACES, str(DEMO))))
    place = record["anew_s"] / record["places anew"]
    record["ratio a place, fields counted"] = place / ((record["fields_s"] + record["map_s"]) / record["places"])
    record["ratio a place, map alone"] = place / (record["map_s"] / record["places"])
    return record


def sweep_against_solves(folder: Path, coils: int = 1000, solves: int = 5) -> dict[str, Any]:
    """(b) A sweep of a thousand coils against as many separate `solve` calls, a few of which are timed."""
    study = with_sweep(folder, THOUSAND.format(diameters=coils // 40), "thousand-coils")
    whole = run_seconds(study, 2)
    single = summary(seconds([TRIVET, "solve", str(study)], solves))
    return {
        "coils": coils,
        "run_s": whole,
        "solve_s": single,
        "solve calls timed": solves,
        "ratio": coils * single["median_s"] / whole,
    }


def workers_against_one(folder: Path, stacks: int = 120) -> dict[str, Any]:
    """(d) A sweep of stacks of their own with one worker and with two."""
    study = with_sweep(folder, STACKS.format(count=stacks), "separate-stacks")
    one, two = run_seconds(study, 1), run_seconds(study, 2)
    return {"designs": 2 * stacks, "one_s": one, "two_s": two, "ratio": one / two}
