"""Alternating-current resistance of coils whose wires are meshed one by one, beside what the program makes of them.

``python -m tests.reference.wire_by_wire`` solves every case of docs/ac-resistance.md and writes it (some five minutes).
"""

from dataclasses import dataclass
from math import pi, sqrt
from pathlib import Path

from fem.base_solution import BaseProblem, base_solution
from fem.winding_resistance import winding_resistance
from fem.wire_losses import proximity_loss_per_length, skin_depth
from geometries.materials import Material
from geometries.plan import Region
from geometries.section import WindingSection
from geometries.stack import Stack
from geometries.wire import Wire
from tests.reference.resolved_conductors import Conductors, rectangle, resolved, round_wire

SIGMA, FREQUENCY = 5.8e7, 134.2e3
DEPTH = skin_depth(FREQUENCY, SIGMA)
COPPER = Material("copper", resistivity_20=1.0 / SIGMA)
YOKE = 1e6  # relative permeability of what stands for a perfect conductor of flux


@dataclass(frozen=True)
class Coil:
    """``layers`` × ``turns`` wires; ``thickness`` is diameter over skin depth, ``packing`` diameter over pitch."""

    layers: int
    turns: int
    thickness: float
    packing: float
    staggered: bool = False

    @property
    def wire(self) -> Wire:
        diameter = self.thickness * DEPTH
        return Wire(COPPER, diameter, diameter / self.packing)

    @property
    def pitches(self) -> tuple[float, float]:
        """Between layers and along a layer [m]."""
        pitch = self.wire.overall_diameter
        return (sqrt(0.75) * pitch if self.staggered else pitch), pitch

    @property
    def radius(self) -> float:
        """So wide that a turn's own curvature is below 1e-4 of its resistance."""
        return 40.0 * self.wire.overall_diameter

    @property
    def section(self) -> WindingSection:
        """What the wires' cells take; where layers are staggered each juts out of it by a quarter of a pitch."""
        radial, axial = self.pitches
        build, length = self.layers * radial, self.turns * axial
        return WindingSection(self.radius, self.radius + build, -0.5 * length, 0.5 * length)

    def exact(self) -> float:
        """R/R0 with every wire meshed, in air."""
        (radial, axial), section, diameter = self.pitches, self.section, self.wire.diameter
        wires = tuple(
            round_wire(
                section.inner_radius + radial * (layer + 0.5),
                section.bottom + axial * (turn + 0.5 + (0.5 * (layer % 2) - 0.25) * self.staggered),
                diameter,
            )
            for layer in range(self.layers)
            for turn in range(self.turns)
        )
        size = min(diameter / 3.0, 0.8 * DEPTH)
        return ratio(Conductors(wires, SIGMA, FREQUENCY, size, outer_radius=3.0 * section.outer_radius))

    def program(self) -> tuple[float, float]:
        """R/R0 of the program, and of the sum without its two corrections."""
        square = base_solution(BaseProblem(Stack(), self.section, FREQUENCY, 1e-4, ())).field_square_length
        return corrected_and_plain(self.section, self.layers * self.turns, self.wire, square)


def long_solenoid(layers: int, thickness: float, packing: float) -> tuple[float, float, float]:
    """R/R0 of a solenoid without end: exact, the program's, the program's without its corrections.

    One wire a layer between two plates of endless permeability, which mirror it without end; the field inside is the
    ampere-turns per length, outside nothing.
    """
    diameter = thickness * DEPTH
    pitch = diameter / packing
    inner = 40.0 * pitch
    wires = tuple(round_wire(inner + pitch * (layer + 0.5), 0.0, diameter) for layer in range(layers))
    shape = yoke(inner, layers * pitch, pitch)
    exact = ratio(Conductors(wires, SIGMA, FREQUENCY, min(diameter / 4.0, 0.7 * DEPTH), ((shape, YOKE),)))
    count = 1000  # turns a layer: to the program a long coil, its field that of one without end
    section = WindingSection(inner, inner + layers * pitch, 0.0, count * pitch)
    square = 2.0 * pi * (section.outer_radius / 3.0 - section.radial_build / 4.0) / section.winding_length**2
    return (exact, *corrected_and_plain(section, layers * count, Wire(COPPER, diameter, pitch), square))


def yoke(inner: float, build: float, height: float) -> Region:
    """Plates above and below a window of this height and a wall outside it; the middle is air."""
    side, wall, half = 0.3 * inner, inner + build, 0.5 * height
    outline = (
        (0.0, -half - side), (wall + side, -half - side), (wall + side, half + side), (0.0, half + side),
        (0.0, half), (wall, half), (wall, -half), (0.0, -half),
    )  # fmt: skip
    return Region("yoke", outline, half, half)


def foils(layers: int, thickness: float) -> float:
    """R/R0 of flat foil layers as high as the window between the plates: a field in one dimension.

    Bent to a ring they differ by a part in proportion to build over radius: taken out by two radii, one three times the
    other; its square, up to 1e-4 for three layers, stays.
    """
    narrow, wide = (_ring_foils(layers, thickness, inner) for inner in (0.02, 0.06))
    return 1.5 * wide - 0.5 * narrow


def _ring_foils(layers: int, thickness: float, inner: float, height: float = 3e-3) -> float:
    foil = thickness * DEPTH
    pitch = 1.1 * foil
    outlines = tuple(
        rectangle(inner + pitch * layer, inner + pitch * layer + foil, -0.5 * height, 0.5 * height)
        for layer in range(layers)
    )
    shape = yoke(inner, layers * pitch, height)
    return ratio(Conductors(outlines, SIGMA, FREQUENCY, 0.5 * min(foil, DEPTH), ((shape, YOKE),)))


def ratio(conductors: Conductors) -> float:
    """R/R0 of conductors in series."""
    solved = resolved(conductors)
    return solved.impedance().real / solved.direct_current_resistance()


def corrected_and_plain(section: WindingSection, turns: int, wire: Wire, square: float) -> tuple[float, float]:
    found = winding_resistance(section, turns, wire, FREQUENCY, square)
    plain = 2.0 * float(proximity_loss_per_length(wire.diameter, FREQUENCY, SIGMA, 1.0)) * turns**3 * square
    steady = found.direct_current
    return found.total / steady, (steady + found.skin + plain) / steady


PAGE = Path(__file__).parents[2] / "docs" / "ac-resistance.md"
TEXT = """# Resistance of multilayer windings to alternating current

Written by `python -m tests.reference.wire_by_wire` (some five minutes on one core);
`tests/fem/test_winding_resistance.py` holds the program to the bounds below on part of these cases.

**What the program does** (`fem/winding_resistance.py`): direct current, plus skin effect of the lone round wire (Bessel
functions), plus proximity effect: each wire's loss in a field across it (Butterworth's G, Bessel functions) from the
field of the evenly spread current. Of that field's mean square it takes off what a turn's own current, spread over its
cell, makes there, and it multiplies it by 1/|1 − f J2(ka)/J0(ka)|², f the share of conductor in the section, since the
wires' induced moments weaken the field across each other (Rayleigh 1892).

**What it is held against**: the same coil with every round wire meshed as a solid conductor of its own, one ampere
net in each, eddy currents resolved (`tests/reference/resolved_conductors.py`); these share the elements with the
program and nothing of its wire formulas. They in turn are held against exact published results: the Bessel functions
of the lone wire, Butterworth's G, and Dowell's foil layers (docs/validation.md). The foils' difference, relative:
{foils}.

R/R0 in copper at 134.2 kHz; it depends on d/δ (diameter over skin depth), d/p (diameter over pitch) and the lattice
alone. "Before" is the same sum without the two corrections.

{tables}

## How far off

Largest error of R at each d/δ over all the cases above, in per cent of R:

{bounds}

What is left out, and grows with d/δ and d/p: the moments also change the field at the winding's ends and sides, and
wires that almost touch have moments of higher order. The winding's section must be what the wires' cells take: stated
half a pitch too long, as the outer edge of four staggered turns is, it thins the field, and R of 4 × 4 wires at d/p 0.9
came out 3.2 % low at d/δ = 1.5 and 6.3 % at 2. Not tried: wires that touch (d/p = 1), random winding, litz, and a
core or plate so near that its field varies over one pitch. Above d/δ = 1.5 a run says so in a note.
"""


def main() -> None:
    errors: dict[float, list[tuple[float, float]]] = {}
    tables = ["## Solenoid without end, square lattice", "", _heading("layers")]
    for layers in (1, 2, 3, 4, 5):
        for packing in (0.6, 0.9):
            for thickness in (0.3, 0.7, 1.0, 1.5, 2.0):
                found = long_solenoid(layers, thickness, packing)
                tables.append(_row(str(layers), thickness, packing, found, errors))
    tables += ["", "## Coils in air", "", _heading("layers × turns")]
    for layers, turns, staggered in (
        (1, 1, False), (1, 10, False), (2, 2, False), (2, 10, False), (3, 3, False), (4, 4, False), (5, 5, False),
        (2, 4, True), (4, 4, True),
    ):  # fmt: skip
        for packing in (0.6, 0.9):
            for thickness in (0.3, 1.0, 1.5, 2.0):
                coil = Coil(layers, turns, thickness, packing, staggered)
                name = f"{layers} × {turns}{' staggered' * staggered}"
                tables.append(_row(name, thickness, packing, (coil.exact(), *coil.program()), errors))
    bounds = ["| d/δ | program | before |", "| --- | --- | --- |"]
    bounds += [
        f"| {q:g} | {max(e[0] for e in v):.2f} | {max(e[1] for e in v):.2f} |" for q, v in sorted(errors.items())
    ]
    checks = "; ".join(f"{m} layer{'s' * (m > 1)} {foils(m, 1.0) / dowell_ratio(m, 1.0) - 1.0:+.1e}" for m in (1, 2, 3))
    PAGE.write_text(TEXT.format(foils=checks, tables="\n".join(tables), bounds="\n".join(bounds)), encoding="utf-8")


def dowell_ratio(layers: int, thickness: float) -> float:
    """R/R0 of full foil layers, P. L. Dowell, Proc. IEE 113, 1966, 1387; ``thickness`` over skin depth."""
    from math import cos, cosh, sin, sinh

    x = thickness
    own = (sinh(2.0 * x) + sin(2.0 * x)) / (cosh(2.0 * x) - cos(2.0 * x))
    among = (sinh(x) - sin(x)) / (cosh(x) + cos(x))
    return x * (own + 2.0 * (layers**2 - 1.0) / 3.0 * among)


def _heading(first: str) -> str:
    return f"| {first} | d/p | d/δ | wire by wire | program | error | before | error |\n" + "| --- " * 8 + "|"


def _row(name: str, thickness: float, packing: float, found: tuple[float, ...], errors: dict) -> str:
    exact, mine, plain = found
    off, before = (100.0 * (value / exact - 1.0) for value in (mine, plain))
    errors.setdefault(thickness, []).append((abs(off), abs(before)))
    return (
        f"| {name} | {packing:g} | {thickness:g} | {exact:.4f} | {mine:.4f} | {off:+.2f} % | {plain:.4f} | "
        f"{before:+.2f} % |"
    )


if __name__ == "__main__":
    main()
