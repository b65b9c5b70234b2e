"""Windings whose every conductor is meshed: eddy currents resolved, one ampere net in each turn.

Independent of the program's wire formulas (skin and proximity effect by Bessel functions): only the elements are
shared. In a conductor J = σ(V/(2πr) − jωA); the voltages V follow from the currents that are asked for.
"""

from dataclasses import dataclass
from math import cos, pi, sin, sqrt

import numpy as np

from fem.elements import Elements
from fem.model import Body, Model
from fem.system import FieldOf, System
from geometries.meshing import section_mesh
from geometries.plan import MeshPlan, Region
from geometries.tag import Outline

MU0 = 4e-7 * pi


def round_wire(radius: float, height: float, diameter: float, sides: int = 24) -> Outline:
    """A regular polygon about (radius, height) with the area of the wire; its second moment is 3e-5 more (24 sides)."""
    corner = diameter / 2.0 * sqrt(2.0 * pi / sides / sin(2.0 * pi / sides))
    angles = 2.0 * pi * (np.arange(sides) + 0.5) / sides
    return tuple((float(radius + corner * cos(a)), float(height + corner * sin(a))) for a in angles)


def rectangle(inner: float, outer: float, bottom: float, top: float) -> Outline:
    return ((inner, bottom), (outer, bottom), (outer, top), (inner, top))


@dataclass(frozen=True)
class Conductors:
    """Solid rings of one conductivity [S/m] in air, and what else lies about them.

    ``outlines`` are the conductors' polygons, ``size`` the elements' size in them [m]; ``others`` further regions with
    their relative permeability.
    """

    outlines: tuple[Outline, ...]
    conductivity: float
    frequency: float
    size: float
    others: tuple[tuple[Region, float], ...] = ()
    outer_radius: float | None = None

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(f"turn {number}" for number in range(len(self.outlines)))

    def system(self, order: int = 3) -> System:
        regions = [Region(n, o, self.size, self.size) for n, o in zip(self.names, self.outlines, strict=True)]
        regions += [region for region, _ in self.others]
        corners = np.array([corner for region in regions for corner in region.outline])
        centre = 0.5 * float(corners[:, 1].min() + corners[:, 1].max())
        reach = self.outer_radius or 4.0 * float(np.hypot(corners[:, 0], corners[:, 1] - centre).max())
        bodies = {name: Body(1.0, self.conductivity) for name in self.names}
        bodies |= {region.name: Body(1.0 / mu) for region, mu in self.others}
        mesh = section_mesh(MeshPlan(tuple(regions), (), centre, reach))
        return System(Elements(mesh, order), Model(2.0 * pi * self.frequency, bodies))


@dataclass(frozen=True)
class Resolved:
    """Solved conductors: ``steady`` conductances [S], ``flux`` (n_turn, n_unknown) the weights of ∫ A dS · µ0σ/2π."""

    given: Conductors
    system: System
    flux: np.ndarray
    steady: np.ndarray

    @property
    def omega(self) -> float:
        return 2.0 * pi * self.given.frequency

    def direct_current_resistance(self) -> float:
        """Of all conductors in series [Ω]."""
        return float((1.0 / self.steady).sum())

    def impedance(self) -> complex:
        """Of all conductors in series, the same current in each [Ω]."""
        answers = self.system.solve(self.flux.T.astype(complex))
        admittance = np.diag(self.steady) - 2j * pi * self.omega / MU0 * (self.flux @ answers)
        return complex(np.linalg.solve(admittance, np.ones(len(self.steady))).sum())

    def open_loss(self, field: FieldOf) -> float:
        """Mean power [W] in conductors without net current in a given field (peak)."""
        answers = self.system.solve(np.column_stack([self.flux.T, self.system.reaction_load(field)]).astype(complex))
        to_volts, to_field = answers[:, :-1], answers[:, -1]
        elements, sigma = self.system.elements, self.given.conductivity
        admittance = np.diag(self.steady) - 2j * pi * self.omega / MU0 * (self.flux @ to_volts)
        members = [elements.mesh.regions[name] for name in self.given.names]
        weights = [elements.weights[m] / elements.positions[0, m] for m in members]  # dS
        given = [field(*elements.positions[:, m])[0] for m in members]
        driven = np.array([(w * a).sum() for w, a in zip(weights, given, strict=True)])
        currents = -1j * self.omega * (sigma * driven + 2.0 * pi / MU0 * (self.flux @ to_field))
        volts = np.linalg.solve(admittance, -currents)
        whole = to_field + to_volts @ volts
        loss = 0.0
        for m, w, a, volt in zip(members, weights, given, volts, strict=True):
            r = elements.positions[0, m]
            potential = a + np.einsum("bep,be->ep", elements.values[:, m], whole[elements.dofs[:, m]])
            density = sigma * (volt / (2.0 * pi * r) - 1j * self.omega * potential)
            loss += float((np.abs(density) ** 2 * 2.0 * pi * r * w).sum()) / (2.0 * sigma)
        return loss


def resolved(given: Conductors, order: int = 3) -> Resolved:
    """Mesh and assemble."""
    system = given.system(order)
    elements, sigma = system.elements, given.conductivity
    flux, steady = np.zeros((len(given.outlines), elements.count)), []
    for row, name in zip(flux, given.names, strict=True):
        members = elements.mesh.regions[name]
        area_weights = elements.weights[members] / elements.positions[0, members]
        loads = MU0 * sigma / (2.0 * pi) * np.einsum("bep,ep->be", elements.values[:, members], area_weights)
        np.add.at(row, elements.dofs[:, members], loads)
        steady.append(sigma / (2.0 * pi) * float((area_weights / elements.positions[0, members]).sum()))
    return Resolved(given, system, flux, np.array(steady))
