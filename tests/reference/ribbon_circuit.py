"""Ribbon heaters as ring-shaped circuits: rings, an open and a joined spiral, with nothing of the solver in them.

Every ribbon is cut into narrow rings as in `ring_circuit`; the gaps between the ribbons stay empty. What tells the
kinds apart is Kirchhoff's current law alone: closed rings carry what the field drives in them, the turns of an open
spiral carry nothing as a whole, those of a joined one carry one common current that its termination lets through.
"""

from dataclasses import dataclass
from math import pi
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from geometries.section import WindingSection
from tests.reference.ring_circuit import FoilDisc, coil_to_rings, ring_impedances

Kind = Literal["rings", "open spiral", "shorted spiral"]


@dataclass(frozen=True, slots=True)
class RibbonDisc:
    """A disc of ``count`` ribbons: pitch, ribbon's width and cells a ribbon; σt [S]; what joins the ends [Ω]."""

    kind: Kind
    inner_radius: float
    count: int
    pitch: float
    width: float
    height: float
    conductance: float
    frequency: float
    termination: complex = 0.0
    cells: int = 10

    @property
    def outer_radius(self) -> float:
        return self.inner_radius + self.count * self.pitch


def ribbon_reflection(section: WindingSection, disc: RibbonDisc) -> complex:
    """Impedance [Ω] that the disc adds to one turn of a coil."""
    to_coil, currents = _solved(section, disc)
    return complex(2j * pi * disc.frequency * (to_coil @ currents))


def ribbon_coupling(section: WindingSection, other: WindingSection, disc: RibbonDisc) -> complex:
    """What the disc adds [H] to the mutual inductance of one turn of two coaxial coils."""
    cut, members = _cut(disc)
    return complex(coil_to_rings(other, cut, members.size)[members] @ _solved(section, disc)[1])


def _cut(disc: RibbonDisc) -> tuple[FoilDisc, NDArray[np.bool_]]:
    """The disc as a foil cut into rings as wide as a ribbon's cells, and which of the rings are metal."""
    cell = disc.width / disc.cells
    a_pitch = round(disc.pitch / cell)
    assert abs(a_pitch * cell / disc.pitch - 1.0) < 1e-9, "cells must fit the pitch"
    first = (a_pitch - disc.cells) / 2
    assert first.is_integer(), "the ribbon must lie in the middle of its pitch"
    place = np.tile(np.arange(a_pitch), disc.count)
    foil = FoilDisc(disc.inner_radius, disc.outer_radius, disc.height, disc.conductance, disc.frequency)
    return foil, (place >= first) & (place < first + disc.cells)


def _solved(section: WindingSection, disc: RibbonDisc) -> tuple[NDArray[np.float64], NDArray[np.complex128]]:
    foil, members = _cut(disc)
    to_coil = coil_to_rings(section, foil, members.size)[members]
    impedances = ring_impedances(foil, members.size)[np.ix_(members, members)]
    emf = -2j * pi * disc.frequency * to_coil
    if disc.kind == "rings":
        return to_coil, np.linalg.solve(impedances, emf)
    ribbons = np.kron(np.eye(disc.count), np.ones((disc.cells, 1)))  # cell by ribbon
    if disc.kind == "shorted spiral":
        # One current I in every ribbon; the ribbons' voltages add up to what the termination takes.
        by_emf = np.linalg.solve(impedances, np.column_stack([emf, ribbons]))
        admittance = ribbons.T @ by_emf[:, 1:]
        ones = np.ones(disc.count)
        per_volt = np.linalg.solve(admittance, np.column_stack([ones, ribbons.T @ by_emf[:, 0]]))
        current = ones @ per_volt[:, 1] / (ones @ per_volt[:, 0] + disc.termination)
        voltages = per_volt[:, 0] * current - per_volt[:, 1]
        return to_coil, by_emf[:, 0] + by_emf[:, 1:] @ voltages
    by_emf = np.linalg.solve(impedances, np.column_stack([emf, ribbons]))
    voltages = -np.linalg.solve(ribbons.T @ by_emf[:, 1:], ribbons.T @ by_emf[:, 0])
    return to_coil, by_emf[:, 0] + by_emf[:, 1:] @ voltages
