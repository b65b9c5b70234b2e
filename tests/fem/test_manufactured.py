"""Order of convergence of every term of the weak form, by solutions made up for it.

A potential is chosen; its source, by derivatives taken on paper, is the load; what the elements give back must tend to
the potential as h^(p+1) in the mean square, as h^p in the energy, and as h^(2p) in the load's own functional. A wrong
coefficient anywhere leaves a difference that no refinement takes away. Each case was seen to fail with its own
coefficient one percent off, and with its sign turned, in the code.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from math import pi

import numpy as np
import pytest
from numpy.polynomial import Polynomial
from scipy.special import j0, j1, jn_zeros

from fem.elements import Elements
from fem.model import Body, Loop, Model, SheetTerms
from fem.refinement import refined
from fem.system import System
from geometries.constants import MAGNETIC_CONSTANT
from geometries.meshing import section_mesh
from geometries.plan import MeshPlan
from tests.fem.discs import BLOCK, block_plan, cut_plan

ORDERS = (2, 3)
OMEGA = 2.0
(INNER, BOTTOM), (OUTER, _), (_, TOP), _ = BLOCK
AREA = (OUTER - INNER) * (TOP - BOTTOM)

Field = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]
Source = Callable[[np.ndarray, np.ndarray], np.ndarray]


@dataclass(frozen=True)
class Case:
    """A problem with its solution: A, B_r, B_z outside and inside the block, and μ0J there; ``open_edge`` where no load
    comes from outside."""

    plan: MeshPlan
    model: Model
    outside: Field
    source: Source
    inside: Field | None = None
    inside_source: Source | None = None
    open_edge: bool = False


# --- potentials --------------------------------------------------------------------------------------------------


def separable(*terms):
    """A = Σ T(r) s(z)/r with polynomials T divisible by r²: the field, and −∂zzA − ∂r((1/r)∂r(rA))."""

    def field(r, z):
        a = sum(T(r) / r * s(z) for T, s in terms)
        b_r = -sum(T(r) / r * s.deriv()(z) for T, s in terms)
        return a, b_r, sum(T.deriv()(r) / r * s(z) for T, s in terms)

    def source(r, z):
        curved = sum(T(r) / r * s.deriv(2)(z) for T, s in terms)
        return -curved - sum((T.deriv(2)(r) / r - T.deriv()(r) / r**2) * s(z) for T, s in terms)

    return field, source


def plane_wave(alpha, shape):
    """A = J1(αr) f(z) with f'' = α²f: free of sources wherever f is smooth; ``shape`` gives f and f'."""

    def field(r, z):
        f, slope = shape(z)
        return j1(alpha * r) * f, -j1(alpha * r) * slope, alpha * j0(alpha * r) * f

    return field


def rising(alpha):
    return plane_wave(alpha, lambda z: (np.exp(alpha * z), alpha * np.exp(alpha * z)))


def nothing(r, z):
    return np.zeros_like(r)


def multipole(degree, inner, smoothness=7):
    """A = r z^(l−1) g(ρ²), g = ρ^(−2l−1) beyond ``inner`` and its Taylor polynomial within; for l = 1 and 2."""
    square, power = inner**2, -(degree + 0.5)
    factors = [1.0]
    for k in range(smoothness):
        factors.append(factors[-1] * (power - k) / (k + 1))
    within = Polynomial([f * square ** (power - k) for k, f in enumerate(factors)])

    def shape(t, order):
        far = {0: t**power, 1: power * t ** (power - 1), 2: power * (power - 1) * t ** (power - 2)}[order]
        return np.where(t > square, far, within.deriv(order)(t - square) if order else within(t - square))

    def field(r, z):
        t = r * r + z * z
        g, slope = shape(t, 0), shape(t, 1)
        if degree == 1:
            return r * g, -r * slope * 2.0 * z, 2.0 * g + r * slope * 2.0 * r
        return r * z * g, -(r * g + r * z * slope * 2.0 * z), 2.0 * z * g + r * z * slope * 2.0 * r

    def source(r, z):
        t = r * r + z * z
        change = 4.0 * t * shape(t, 2) + (4.0 * degree + 6.0) * shape(t, 1)
        return -(r if degree == 1 else r * z) * np.where(t > square, 0.0, change)

    return field, source


# --- cases -------------------------------------------------------------------------------------------------------

R = Polynomial([0.0, 1.0])
BUBBLE = (R * (R - INNER) * (OUTER - R)) ** 2 * 50.0
"""T(r): on the block's sides it and its slope vanish."""

UP = Polynomial([1.0, -0.7, 0.4, 0.9, -0.5])
"""s(z): its slope at the block's bottom and top is not 0."""


def block_case(reluctivity, conductivity):
    """ν and σ in the block. A bends at its bottom and top so that ν∂zA is continuous there: inside,
    w = (1/ν − 1) T(r) q(z)/r is added, q having the slopes of s and no value at both edges."""
    low, high = BOTTOM, TOP
    a, b = UP.deriv()(low), UP.deriv()(high)
    z, span = Polynomial([0.0, 1.0]), high - low
    hermite = (z - low) * (high - z) * ((high - z) * a - (z - low) * b) / span**2
    outside, source = separable((BUBBLE, UP))
    inside, own = separable((BUBBLE, UP + (1.0 / reluctivity - 1.0) * hermite))
    eddy = 1j * OMEGA * MAGNETIC_CONSTANT * conductivity

    def inside_source(r, z):
        return reluctivity * own(r, z) + eddy * inside(r, z)[0]

    model = Model(OMEGA, {"block": Body(reluctivity, conductivity)})
    return Case(block_plan(), model, outside, source, inside, inside_source)


def winding_case():
    """One ampere in the block: A = −(κ/3) r² has the source κ everywhere; the winding brings that of the block."""
    density, wave = MAGNETIC_CONSTANT / AREA, rising(3.0)

    def field(r, z):
        a, b_r, b_z = wave(r, z)
        return density * (a - r * r / 3.0), density * b_r, density * (b_z - r)

    return Case(block_plan(), Model(OMEGA), field, lambda r, z: np.full_like(r, density), field, nothing)


def sheet_case(terms, strength):
    """A plane wave on a sheet across the disc: e^{αz} + Γe^{−αz} above, (1 + Γ) e^{αz} below, Γ = −q/(1 + q) where the
    potential is what acts; α such that B_n vanishes on the rim."""
    alpha = float(jn_zeros(0, 1)[0])
    q = strength(alpha)

    def shape(z):
        up, down = np.exp(-alpha * np.abs(z)), np.exp(alpha * z)
        f = np.where(z > 0.0, down - q / (1.0 + q) * up, down / (1.0 + q))
        return f, alpha * np.where(z > 0.0, down + q / (1.0 + q) * up, down / (1.0 + q))

    return Case(cut_plan(), Model(OMEGA, {}, {"sheet": terms}), plane_wave(alpha, shape), nothing)


def loop_case():
    """A joined spiral: its term is driven by the loop's linkage of A; the load holds the same, worked out on paper."""
    terms = SheetTerms(loop=Loop(5.0, (0.4 + 0.3j) * MAGNETIC_CONSTANT))
    return Case(cut_plan(), Model(OMEGA, {}, {"sheet": terms}), rising(2.0), nothing)


MIXED_SHEET = 1.3 / (OMEGA * MAGNETIC_CONSTANT)
RIBBON = 0.2 + 0.5j
CASES = {
    "reluctivity": lambda: block_case(0.4, 0.0),
    "complex reluctivity": lambda: block_case(0.5 + 0.3j, 0.0),
    "conductivity": lambda: block_case(1.0, 3.0 / (OMEGA * MAGNETIC_CONSTANT)),
    "both": lambda: block_case(0.5 + 0.3j, 3.0 / (OMEGA * MAGNETIC_CONSTANT)),
    "winding": winding_case,
    "closed sheet": lambda: sheet_case(SheetTerms(conductance=MIXED_SHEET), lambda alpha: 1.3j / (2.0 * alpha)),
    "ribbon": lambda: sheet_case(SheetTerms(magnetisation=RIBBON), lambda alpha: RIBBON * alpha / 2.0),
    "ribbon in closed paths": lambda: sheet_case(
        SheetTerms(MIXED_SHEET, RIBBON), lambda alpha: 1.3j / (2.0 * alpha) + RIBBON * alpha / 2.0
    ),
    "joined spiral": loop_case,
    "outer boundary": lambda: Case(block_plan(), Model(OMEGA), *multipole(1, 0.7), *multipole(1, 0.7), open_edge=True),
}


# --- what the elements make of them ------------------------------------------------------------------------------


def exact(case, system):
    """A, B_r, B_z and μ0J at the quadrature points."""
    r, z = system.elements.positions
    found = [np.array(v, dtype=complex) for v in (*case.outside(r, z), case.source(r, z))]
    if case.inside is not None and case.inside_source is not None:
        members = system.elements.mesh.regions["block"]
        values = (*case.inside(r[members], z[members]), case.inside_source(r[members], z[members]))
        for whole, part in zip(found, values, strict=True):
            whole[members] = part
    return found


def edge_density(field, lines):
    """B_z n_r − B_r n_z + βA on the outer polygon: what comes from beyond it."""
    (r, z), (n_r, n_z) = lines.positions, lines.normals
    a, b_r, b_z = field(r, z)
    beta = 3.0 * (n_r * r + n_z * z) / (r * r + z * z) - 2.0 * n_r / r
    return b_z * n_r - b_r * n_z + beta * a


def load_and_work(case, system):
    """The load, and what it does on the exact potential."""
    elements = system.elements
    potential, _, _, source = exact(case, system)
    load = np.zeros(elements.count, dtype=complex)
    np.add.at(load, elements.dofs, (elements.values * (source * elements.weights)).sum(axis=-1))
    work = (source * potential * elements.weights).sum()
    if not case.open_edge:
        density = edge_density(case.outside, elements.outer) * elements.outer.weights
        np.add.at(load, elements.outer.dofs, (elements.outer.values * density).sum(axis=-1))
        work += (density * case.outside(*elements.outer.positions)[0]).sum()
    terms = case.model.sheets.get("sheet")
    if terms is not None and terms.loop is not None:
        lines, loop = elements.sheets["sheet"], terms.loop
        linkage = loop.turn_density * (case.outside(*lines.positions)[0] * lines.weights).sum()
        current = 2.0 * pi * 1j * OMEGA * MAGNETIC_CONSTANT / loop.impedance * linkage
        np.add.at(load, lines.dofs, current * loop.turn_density * (lines.values * lines.weights).sum(axis=-1))
        work += current * linkage
    return load, work


@cache
def errors(name, order, levels=3):
    """Mean square, energy, work and the block's flux linkage, each relative, on a mesh and its refinements."""
    case = CASES[name]()
    mesh, found = section_mesh(case.plan), []
    block = bool(case.plan.regions)
    for _ in range(levels):
        system = System(Elements(mesh, order), case.model)
        load, work = load_and_work(case, system)
        if name == "winding":
            own = system.winding_load("block", AREA)
            load, work = load + own, work + linkage_by_hand(case, system) * MAGNETIC_CONSTANT / (2.0 * pi)
        potential = system.solve(load[:, None])[:, 0]
        linked = (
            abs(system.flux_linkage(potential, "block", AREA) / linkage_by_hand(case, system) - 1.0) if block else 0.0
        )
        true = exact(case, system)
        found.append((*norms(system, potential, true), abs(load @ potential / work - 1.0), linked))
        mesh = refined(mesh, 1)
    return np.array(found)


def norms(system, potential, true):
    elements = system.elements
    coefficients = potential[elements.dofs]
    value = np.einsum("bep,be->ep", elements.values, coefficients)
    field = np.einsum("cbep,be->cep", elements.curls, coefficients)
    off = (np.abs(value - true[0]) ** 2 * elements.weights).sum() / (np.abs(true[0]) ** 2 * elements.weights).sum()
    square = np.abs(true[1]) ** 2 + np.abs(true[2]) ** 2
    wrong = np.abs(field[0] - true[1]) ** 2 + np.abs(field[1] - true[2]) ** 2
    return np.sqrt(off), np.sqrt((wrong * elements.weights).sum() / (square * elements.weights).sum())


def linkage_by_hand(case, system):
    """2π/area ∫ A r dS over the block, of the exact potential."""
    members = system.elements.mesh.regions["block"]
    potential = exact(case, system)[0][members]
    return 2.0 * pi / AREA * (potential * system.elements.weights[members]).sum()


def rates(column):
    return np.log2(column[:-1] / column[1:])


# --- the orders --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("name", CASES)
def test_every_term_converges_at_the_order_of_the_elements(name, order):
    value, field, work, _ = errors(name, order).T
    for column, expected in ((value, order + 1), (field, order), (work, 2 * order)):
        assert rates(column)[-1] == pytest.approx(expected, abs=0.15)
    assert value[-1] < {2: 1e-3, 3: 2e-5}[order]


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("name", [n for n in CASES if "sheet" not in n and "ribbon" not in n and "spiral" not in n])
def test_flux_linkage_converges_at_two_orders_more_than_the_field(name, order):
    # 2p for a smooth dual; the field of a block of current has weak edges at its corners, worth two orders.
    linked = errors(name, order)[:, 3]
    assert np.log2(linked[0] / linked[-1]) / 2.0 > order + 2.0 - 0.3


def given_field(r, z):
    return rising(1.5)(r, z)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("name", [n for n in CASES if n not in ("winding", "outer boundary")])
def test_reaction_to_a_given_field_converges_at_the_order_of_the_elements(name, order):
    # a(A − A_c, v) = load − a0(A_c, v) − d(A_c, v): the last is the reaction load, A_c a wave from beyond the edge.
    case = CASES[name]()
    mesh, found = section_mesh(case.plan), []
    for _ in range(2):
        system = System(Elements(mesh, order), case.model)
        load, _ = load_and_work(case, system)
        outer = system.elements.outer
        density = edge_density(given_field, outer) * outer.weights
        np.add.at(load, outer.dofs, -(outer.values * density).sum(axis=-1))
        answer = system.solve((load + system.reaction_load(given_field))[:, None])[:, 0]
        true = exact(case, system)
        given = given_field(*system.elements.positions)
        found.append(norms(system, answer, [t - g for t, g in zip(true[:3], given, strict=True)]))
        mesh = refined(mesh, 1)
    value, field = np.array(found).T
    assert rates(value)[-1] == pytest.approx(order + 1, abs=0.3)
    assert rates(field)[-1] == pytest.approx(order, abs=0.3)


def test_the_outer_boundary_sends_back_a_quadrupole_as_the_fifth_power_of_its_radius():
    # p ρ⁻³ P comes back as q ρ² P with q/p = (l − 1)/(l + 2) R⁻⁵, l = 2 (DESIGN 4.1).
    field, source = multipole(2, 0.7)
    plan = block_plan()
    for radius in (1.0, 1.5):
        case = Case(MeshPlan(plan.regions, (), 0.0, radius), Model(OMEGA), field, source, field, source, open_edge=True)
        system = System(Elements(refined(section_mesh(case.plan), 2), 3), case.model)
        load, _ = load_and_work(case, system)
        potential = system.solve(load[:, None])[:, 0]
        r, z = system.elements.positions
        off = np.einsum("bep,be->ep", system.elements.values, potential[system.elements.dofs]) - field(r, z)[0]
        shape = r * z * system.elements.weights * (np.hypot(r, z) < 0.9)
        returned = (off * shape).sum() / (r * z * shape).sum()
        # The chords of the polygon lie inside the circle, by a thousandth of its radius at most.
        assert returned == pytest.approx(0.25 * radius**-5, rel=5e-3, abs=0.0)
