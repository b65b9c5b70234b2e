"""The page and the picture of the experiment on the error estimates."""

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

Line = dict[str, Any]

COLOURS = {
    "base L": "#1b4f72",
    "reflected R": "#b03a2e",
    "base R": "#d68910",
    "tag L": "#148f77",
    "axial moment": "#6c3483",
    "M on the axis": "#212f3c",
    "M off the axis": "#85929e",
}
LEAST_DRAWN = 1e-9
LARGEST_MEDIAN = 20.0


def write_page(lines: Sequence[Line], seed: int, page: Path, picture: Path) -> None:
    """Write both; the page names the picture beside it."""
    picture.parent.mkdir(parents=True, exist_ok=True)
    draw(lines, picture)
    page.write_text(page_text(lines, seed, picture.relative_to(page.parent).as_posix()), encoding="utf-8")


def entries(lines: Iterable[Line], name: str) -> list[Line]:
    """One quantity's entries over all designs."""
    return [line["quantities"][name] for line in lines if name in line["quantities"]]


def statistics(found: Sequence[Line]) -> dict[str, float]:
    """Coverage and ratios of one quantity.

    A true error below the doubt of its reference is not resolved. It may be anything from nothing to true + doubt: it
    counts as surely covered only where the sum of both is, and as an unknown, unbounded ratio in the quartiles.
    """
    stated, true, doubt = (np.array([entry[name] for entry in found]) for name in ("stated", "true", "doubt"))
    resolved = true > doubt
    ratio = np.where(resolved, stated / np.where(resolved, true, 1.0), np.inf)
    lower, median, upper = np.quantile(ratio, (0.25, 0.5, 0.75), method="higher")
    return {
        "count": len(found),
        "resolved": float(resolved.mean()),
        "covered": float((true <= stated).mean()),
        "surely covered": float((true + doubt <= stated).mean()),
        "lower": float(lower),
        "median": float(median),
        "upper": float(upper),
    }


def page_text(lines: Sequence[Line], seed: int, picture: str) -> str:
    """The page in Markdown."""
    rows = [_row(name, statistics(entries(lines, name))) for name in COLOURS]
    missed = [text for line in lines for text in _missed(line)]
    return TEXT.format(
        seed=seed,
        count=len(lines),
        table="\n".join(rows),
        picture=picture,
        missed="\n".join(missed) if missed else "None.",
    )


def _row(name: str, found: dict[str, float]) -> str:
    shares = [f"{100.0 * found[key]:.1f} %" for key in ("covered", "surely covered", "resolved")]
    ratios = [_ratio(found[key]) for key in ("lower", "median", "upper")]
    return f"| {name} | {found['count']:.0f} | " + " | ".join(shares + ratios) + " |"


def _ratio(value: float) -> str:
    return f"{value:.2g}" if np.isfinite(value) else "not resolved"


def _missed(line: Line) -> Iterable[str]:
    for name, entry in line["quantities"].items():
        if entry["true"] > entry["stated"]:
            stated, true, doubt = (entry[key] / entry["size"] for key in ("stated", "true", "doubt"))
            yield (
                f"- design {line['design']} ({line['words']}), {name}: stated {stated:.1e}, true {true:.1e}, "
                f"the reference's own doubt {doubt:.1e}"
            )


def draw(lines: Sequence[Line], path: Path) -> None:
    """Stated against true error, relative, with the line of equality and that of twenty times."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(7.5, 6.0), layout="constrained")
    for name, colour in COLOURS.items():
        found = entries(lines, name)
        true, stated, doubt = (
            np.array([max(entry[key] / entry["size"], LEAST_DRAWN) for entry in found])
            for key in ("true", "stated", "doubt")
        )
        resolved = true > doubt
        axes.scatter(true[resolved], stated[resolved], s=16, color=colour, label=name, linewidths=0)
        axes.scatter(true[~resolved], stated[~resolved], s=14, facecolors="none", edgecolors=colour, linewidths=0.6)
    ends = np.array([LEAST_DRAWN, 0.3])
    axes.plot(ends, ends, color="black", linewidth=1.2)
    axes.plot(ends, LARGEST_MEDIAN * ends, color="black", linewidth=0.8, linestyle=(0, (5, 4)))
    axes.annotate("stated = true", (3e-3, 2e-3), ha="left", va="top", fontsize=8)
    axes.annotate("20 times", (3e-6, LARGEST_MEDIAN * 3.6e-6), ha="right", va="bottom", fontsize=8)
    axes.set(
        xscale="log", yscale="log", xlim=ends, ylim=(1e-7, 0.3), xlabel="true error, relative",
        ylabel="stated error, relative",
    )  # fmt: skip
    axes.grid(color="#d5d8dc", linewidth=0.5)
    axes.set_axisbelow(True)
    title = "filled: resolved; open: below the reference's doubt"
    axes.legend(loc="lower right", fontsize=8, frameon=True, title=title, title_fontsize=8)
    figure.savefig(path, dpi=130, metadata={"Software": None})
    plt.close(figure)


TEXT = """# Do the stated errors hold?

Written by `make estimates`; do not edit. Seed {seed}, {count} random designs. The estimate
was developed on the designs of seed 3 and not touched between those and these of seed 11.

Each design is a random base coil (diameter, section, clearance, turns) under a plate with or without a heater (foil,
meander, open or joined spiral, rings; the coil on either side of it), with or without something below or round it (pan
of aluminium, austenitic or mild steel, aluminium heat block, ferrite disc), and a random tag (drum, rod or air core),
at 100 to 150 kHz and an accuracy drawn from 1e-2 to 1e-3. It is solved as the program solves it, and again for the
truth: on a series of finer meshes, the outer boundary five times as far off, the last three values taken to their
limit.

| quantity | designs | covered | surely covered | resolved | stated / true, lower quartile | median | upper quartile |
| --- | --- | --- | --- | --- | --- | --- | --- |
{table}

- *Covered*: the true error is at most the stated one. Wanted: 95 % at least, and a median ratio of 20 at most.
- *Resolved*: the true error is above the reference's own doubt, the distance from its last value to the limit. Where it
  is not, it may be anything from nothing up to the sum of both: such a case is *surely covered* only where that sum is
  below the stated error, and in the quartiles it counts as a ratio above all others.
- *Reflected R* and *base R* are there where something around the coil takes power; base R adds the wire's skin effect
  and proximity, and its stated error that of the field in the winding.
- The *axial moment* is there for tags with a core: without one it is geometry alone.
- *M on the axis*: for a cored tag near conductors or ferrite the truth has coil, surroundings and tag in one mesh, so
  the core's own image is in it (every third such design: it is what takes longest); elsewhere it is the integral over
  the reference's sources.
- *M off the axis*, the tag tilted: the truth is that on the axis at the same height times the ratio of the two places
  by the reference's fields, the tag's sources being as they are alone. How the core's own image changes from the axis
  to a place off it is not in it; the allowance that the program makes for that is therefore left out of the stated
  error here.

![Stated against true errors]({picture})

## Not covered

{missed}

## How the errors are estimated

Quadratic and cubic elements on one mesh differ by Σ η_K (DESIGN 4.6). That is the error of the quadratic result, and
what the mesh is refined for. Stated is what the *cubic* result may be off by, Σ |η_K| s_K: s_K is the energy that an
element's solution holds in all degrees above 3 over that in degree 3, by the power law through its parts of degree 2
and 3, and at most what the end of a thin sheet leaves. Nothing is let cancel from element to element. For the
reflected resistance |Im η_K| is replaced by its bound over all phases of the error. The echo of the outer boundary is
added (`fem/boundary.py`), and for M the errors of the field, of the tag's moments and of the core's image.
"""
