"""How time grows with designs, places and elements: figures, and one picture of all three."""

import json
from pathlib import Path
from typing import Any

from benchmarks.sweeps import DEMO, THOUSAND, run_seconds, with_sweep
from benchmarks.timing import printed

DESIGNS = (80, 160, 320, 640)
MAPS = ((14, 8), (28, 16), (56, 31), (112, 62), (224, 124))
"""Heights and offsets of maps with three tilts."""

ACCURACIES = (3e-3, 3e-4, 3e-5, 3e-6)

IN_PROCESS = """
import json, sys, time
from dataclasses import replace
from pathlib import Path
import numpy as np
from fem.base_solution import base_solution
from studies.coupling import coupling_of
from studies.evaluation import evaluated
from studies.solving import base_problem, solved_base, solved_coils
from studies.study import read_study

candidate = read_study(Path(sys.argv[1])).base
maps, accuracies = json.loads(sys.argv[2]), json.loads(sys.argv[3])
coupling = coupling_of(candidate, solved_coils(candidate))
grid = candidate.grid
places = []
for heights, offsets in maps:
    z = np.linspace(grid.heights[0], grid.heights[-1], heights)
    r = np.linspace(grid.offsets[0], grid.offsets[-1], offsets)
    spent = []
    for _ in range(5):
        start = time.process_time()
        found = coupling.grid(z, r, np.array(grid.tilts))
        spent.append(time.process_time() - start)
    places.append((found.mutual_inductance.size, min(spent)))
elements = []
section = solved_base(candidate).section
for accuracy in accuracies:
    spent = []
    for _ in range(2):
        base_solution.cache_clear()
        start = time.process_time()
        solution = base_solution(base_problem(replace(candidate, accuracy=accuracy), section))
        spent.append(time.process_time() - start)
    elements.append((solution.unknowns, min(spent)))
print(json.dumps({"places": places, "unknowns": elements}))
"""


def growth(folder: Path) -> dict[str, Any]:
    """(c) Pairs of size and seconds: coils of a run with two workers, places of a map, unknowns of a field."""
    designs = []
    for count in DESIGNS:
        study = with_sweep(folder, THOUSAND.format(diameters=count // 40), f"coils-{count}")
        designs.append((count, run_seconds(study, 2)))
    found = json.loads(printed(IN_PROCESS, str(DEMO), json.dumps(MAPS), json.dumps(ACCURACIES)))
    return {"designs": designs, "places": found["places"], "unknowns": found["unknowns"]}


def draw(found: dict[str, Any], path: Path) -> None:
    """The three growths side by side; each title says what the last step costs."""
    import matplotlib.pyplot as plt

    titles = {
        "designs": ("Coils over one stack, whole run", "coils"),
        "places": ("The map alone", "places"),
        "unknowns": ("One base field", "unknowns of the last mesh"),
    }
    figure, axes = plt.subplots(1, 3, figsize=(11.0, 4.0), layout="constrained")
    for panel, (name, (title, label)) in zip(axes, titles.items(), strict=True):
        sizes, times = zip(*found[name], strict=True)
        panel.loglog(sizes, times, "o-", color="#2b5d8a")
        for size, spent in found[name]:
            near = {"textcoords": "offset points", "xytext": (-6, 5), "ha": "right"}
            panel.annotate(f"{spent:.2g} s", (size, spent), **near)
        last = f"{sizes[-1] / sizes[-2]:.2g} times as many take {times[-1] / times[-2]:.2g} times as long"
        panel.set_title(f"{title}:\n{last}", fontsize=10)
        panel.set_xlabel(label)
        panel.margins(0.32, 0.2)
        panel.minorticks_off()
        panel.set_xticks(sizes, [f"{size:,}".replace(",", "\N{THIN SPACE}") for size in sizes], rotation=30)
        panel.set_yticks([])
        panel.grid(alpha=0.3)
    axes[0].set_ylabel("time (logarithmic)")
    figure.savefig(path, dpi=150)
    plt.close(figure)
