"""What a bench should read of a design, as a function of the few things that one never knows of it.

They are the core's effective permeability (the tag's L over its L without the core), by how much the tag stands higher
than was read off, and the temperature of the base coil's wire. The tag is solved at some permeabilities of its core and
at some shifts of its height; between them splines are taken. Circuits are worked out anew for every trial.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import cos, pi, sin

import numpy as np
from scipy.interpolate import CubicSpline, RectBivariateSpline

from fem.arrays import Array, ComplexArray
from geometries.errors import GeometryError
from geometries.tag import Tag
from links.budget import link_budget
from links.circuits import BaseCircuit, TagCircuit
from studies.coupling import Coupling, coupling_of
from studies.engineering import millimetres
from studies.linking import linked_circuits
from studies.measured_list import Reading
from studies.one_state import LinkedInState
from studies.solving import SolvedCoils, rewound, solved_coils, solved_tag
from studies.specification import Candidate, CapacitorSpecification, Correction, MapGrid
from studies.tuning import base_circuit, base_tuning, tag_tuning

PERMEABILITY, TEMPERATURE, SHIFT = "core", "wire", "height"
UNKNOWNS = (PERMEABILITY, TEMPERATURE, SHIFT)
"""The unknowns, by the word that holds one of them."""

FACTORS = (1 / 32, 1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0, 2.0, 8.0)
"""Times the core's permeability at which the tag is solved."""

LARGEST_SHIFT = 0.01
SHIFTS = 13
ROOM = 2e-4
"""How far the tag may stand off the height read [m], at how many heights it is looked at, and its least room."""

TEMPERATURES = (-20.0, 600.0)
"""Of the wire, at the ends [°C]."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A thing that is not known: its ``nominal`` value in the study and what it may be, in SI and °C."""

    key: str
    nominal: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class BenchModel:
    """The design in one state, ready to be asked what a reading should be.

    Parameters
    ----------
    found : LinkedInState
        As the study has it; its capacitors are those fitted.
    readings : tuple of Reading
        What is asked for; those at a place have a height.
    vary : tuple of str
        Unknowns that may be varied, of `UNKNOWNS`; the tag is solved once only where the core's is not among them.
    """

    found: LinkedInState
    readings: tuple[Reading, ...]
    vary: tuple[str, ...] = UNKNOWNS

    @cached_property
    def candidate(self) -> Candidate:
        """With its capacitors as they stand in the circuit, and the tag as built, its turns known."""
        found, typical = self.found, self.found.typical
        capacitances = base_tuning(typical, found.coils).capacitance, tag_tuning(typical, found.coils).capacitance
        base, tag = (CapacitorSpecification(value, value, value) for value in capacitances)
        candidate = _as_built(found.biased, found.coils)
        coil = replace(candidate.coil, turns=round(found.coils.base.turns), inductance=None, capacitor=base)
        section = found.coils.base.section
        coil = replace(coil, radial_build=section.radial_build, winding_length=section.winding_length)
        places = [one for one in self.readings if one.height is not None]
        candidate = replace(candidate, coil=coil, tag=replace(candidate.tag, capacitor=tag), formulation="total field")
        return replace(candidate, grid=_grid(candidate, places, self.shifts[0])) if places else candidate

    @cached_property
    def shifts(self) -> tuple[float, float]:
        """Least and greatest shift of the tag's height [m].

        Raises
        ------
        GeometryError
            Where a reading has the tag in the plate.
        """
        tag = self.found.coils.tag.tag
        rooms = [
            one.height - tag.half_height * abs(cos(one.tilt)) - tag.outer_radius * abs(sin(one.tilt))
            for one in self.readings
            if one.height is not None
        ]
        if not rooms:
            return 0.0, 0.0
        if min(rooms) < 0.0:
            raise GeometryError(
                "height", f"the lowest reading has the tag {millimetres(-min(rooms))} deep in the plate: heights are "
                "those of the tag coil's centre above the plate's top",
            )  # fmt: skip
        return -min(LARGEST_SHIFT, max(min(rooms) - ROOM, 0.0)), LARGEST_SHIFT

    @cached_property
    def unknowns(self) -> tuple[Unknown, ...]:
        """What may be varied, the nominal values those of the study."""
        known = {TEMPERATURE: Unknown(TEMPERATURE, self.candidate.coil.wire.temperature, *TEMPERATURES)}
        if self.candidate.tag.construction is not None and self.candidate.tag.construction.core is not None:
            known[PERMEABILITY] = Unknown(PERMEABILITY, self._nominal, self._effective[0], self._effective[-1])
        if self.shifts[1] > self.shifts[0]:
            known[SHIFT] = Unknown(SHIFT, 0.0, *self.shifts)
        return tuple(known[key] for key in UNKNOWNS if key in known and key in self.vary)

    def nominal(self) -> dict[str, float]:
        """Every unknown as the study has it."""
        return {one.key: one.nominal for one in self.unknowns}

    def asked(self, readings: Sequence[Reading]) -> "BenchModel":
        """The same model asked for other readings, at heights between the least and the greatest of its own."""
        other = BenchModel(self.found, tuple(readings), self.vary)
        for name in ("candidate", "shifts", "_coils", "_couplings", "_air_inductance"):
            other.__dict__[name] = getattr(self, name)  # solved once for both
        return other

    def predicted(self, unknowns: Mapping[str, float]) -> list[dict[str, float]]:
        """What every reading should be, by quantity in SI, ``margin`` [dB] among them where it is a plain reading.

        Parameters
        ----------
        unknowns : mapping
            Values by key; what is left out is nominal.
        """
        values = self.nominal() | dict(unknowns)
        permeability = values.get(PERMEABILITY, self._nominal)
        temperature = values.get(TEMPERATURE, self.candidate.coil.wire.temperature)
        omega = 2.0 * pi * self.candidate.frequency
        base = replace(self._base, resistance=self._base_resistance(temperature))
        own = self._coil_resistance(temperature)
        told: list[dict[str, float]] = []
        free = {"inductance": self._free(permeability, 0), "resistance": self._free(permeability, 1)}
        at, mutual, inductance, resistance = self._at_places(permeability, values.get(SHIFT, 0.0))
        links = self._links(base, inductance, resistance, mutual)
        for number, reading in enumerate(self.readings):
            coil = {"inductance": self.found.coils.base.inductance, "resistance": own}
            tag = free
            one: dict[str, float] = {}
            if number in at:
                place = at[number]
                tag = {"inductance": float(inductance[place]), "resistance": float(resistance[place])}
                size = float(abs(mutual[place]))
                one["mutual_inductance"] = size
                one["coupling_coefficient"] = size / float(np.sqrt(coil["inductance"] * tag["inductance"]))
                one["chip_voltage"], one["margin"] = float(links[0][place]), float(links[1][place])
            for side, parts in (("base", coil), ("tag", tag)):
                one |= {f"{side}_{name}": value for name, value in parts.items()}
                one[f"{side}_quality"] = omega * parts["inductance"] / parts["resistance"]
            told.append({key: value for key, value in one.items() if key in (*reading.values, "margin")})
        return told

    def relative_error(self, reading: Reading) -> float:
        """The estimated error of M at a reading's place, relative; a stock part's spread apart."""
        if reading.height is None:
            return 0.0
        on_axis = reading.offset == 0.0 and reading.tilt == 0.0
        return float(self._couplings[self._middle].relative_error(np.array([reading.height]), on_axis)[0])

    # -- what is solved ---------------------------------------------------------------------------------------------

    @cached_property
    def _materials(self) -> tuple[float, ...]:
        """Permeabilities of the core at which the tag is solved, rising; one where it has none or it is not varied."""
        construction = self.candidate.tag.construction
        if construction is None or construction.core is None or PERMEABILITY not in self.vary:
            return ()
        nominal = construction.core.material.relative_permeability
        return tuple(sorted({max(1.0, factor * nominal) for factor in FACTORS}))

    @cached_property
    def _candidates(self) -> tuple[Candidate, ...]:
        made = tuple(_with_permeability(self.candidate, value, self.found.coils) for value in self._materials)
        return made or (self.candidate,)

    @cached_property
    def _coils(self) -> tuple[SolvedCoils, ...]:
        return tuple(solved_coils(one) for one in self._candidates)

    @cached_property
    def _couplings(self) -> tuple[Coupling, ...]:
        return tuple(coupling_of(*pair) for pair in zip(self._candidates, self._coils, strict=True))

    @cached_property
    def _middle(self) -> int:
        construction = self.candidate.tag.construction
        if not self._materials or construction is None or construction.core is None:
            return 0
        return self._materials.index(construction.core.material.relative_permeability)

    @cached_property
    def _effective(self) -> Array:
        """The effective permeabilities of the solved tags, rising [1]."""
        if not self._materials:
            return np.array([self._nominal])
        return np.array([coils.tag.inductance for coils in self._coils]) / self._air_inductance

    @cached_property
    def _air_inductance(self) -> float:
        """Of the tag without its core [H]."""
        tag = self.candidate.tag
        assert tag.construction is not None, "it was built"
        bare = replace(tag, construction=replace(tag.construction, core=None), cold_core=None, sensitivity=None)
        return solved_tag(bare, self.candidate.frequency, 0.5 * self.candidate.accuracy).inductance

    @cached_property
    def _nominal(self) -> float:
        """The effective permeability as the study has it [1]."""
        return self.found.coils.tag.inductance / self._air_inductance

    def _free(self, permeability: float, part: int) -> float:
        """L or R of the tag in free air."""
        values = [(coils.tag.inductance, coils.tag.resistance)[part] for coils in self._coils]
        return float(_spline(self._effective, np.array(values), permeability))

    # -- places -----------------------------------------------------------------------------------------------------

    @cached_property
    def _places(self) -> tuple[dict[int, int], Sequence[Reading]]:
        at = [number for number, one in enumerate(self.readings) if one.height is not None]
        return {number: place for place, number in enumerate(at)}, [self.readings[number] for number in at]

    @cached_property
    def _tables(self) -> tuple[Array, ComplexArray, Array, Array]:
        """Shifts (n,), and M, L and R of the tag at every permeability, shift and place, (n_core, n, n_place)."""
        low, high = self.shifts
        shifts = np.linspace(low, high, SHIFTS) if SHIFT in self.vary and high > low else np.zeros(1)
        _, places = self._places
        frequency = self.candidate.frequency
        size = (len(self._couplings), shifts.size, len(places))
        mutual, inductance, resistance = np.zeros(size, dtype=np.complex128), np.zeros(size), np.zeros(size)
        for core, coupling in enumerate(self._couplings):
            for place, reading in enumerate(places):
                assert reading.height is not None, "it is at a place"
                heights = reading.height + shifts
                found = coupling.grid(heights, np.array([reading.offset]), np.array([reading.tilt]))
                mutual[core, :, place] = found.mutual_inductance[:, 0, 0]
                inductance[core, :, place] = coupling.coils.tag_inductance(heights)
                resistance[core, :, place] = coupling.coils.tag_resistance(heights, frequency)
        return shifts, mutual, inductance, resistance

    @cached_property
    def _surfaces(self) -> list[list["_Surface"]]:
        shifts, mutual, inductance, resistance = self._tables
        tables = (mutual.real, mutual.imag, inductance, resistance)
        count = mutual.shape[2]
        return [[_Surface(self._effective, shifts, one[:, :, place]) for place in range(count)] for one in tables]

    def _at_places(self, permeability: float, shift: float) -> tuple[dict[int, int], ComplexArray, Array, Array]:
        """M [H], L [H] and R [Ω] of the tag at every place, and which of them each reading is."""
        at, places = self._places
        if not places:
            return at, np.zeros(0, dtype=np.complex128), np.zeros(0), np.zeros(0)
        real, imaginary, inductance, resistance = (
            np.array([surface(permeability, shift) for surface in one]) for one in self._surfaces
        )
        return at, real + 1j * imaginary, inductance, resistance

    # -- circuits ---------------------------------------------------------------------------------------------------

    @cached_property
    def _base(self) -> BaseCircuit:
        return base_circuit(self.candidate, self.found.coils)

    @cached_property
    def _windings(self) -> tuple[Array, Array]:
        """R of the base coil [Ω] at temperatures of its wire [°C]: the winding's own, and as its circuit has it."""
        nominal = self.candidate.coil.wire.temperature
        warm = np.unique(np.append(np.linspace(*TEMPERATURES, 9), nominal))
        base = self.found.coils.base
        own = []
        for temperature in warm:
            wire = replace(self.candidate.coil.wire, temperature=float(temperature))
            candidate = replace(self.candidate, coil=replace(self.candidate.coil, wire=wire))
            own.append(rewound(candidate, base.section, base.turns, base.field).resistance)
        return warm, np.array(own)

    def _coil_resistance(self, temperature: float) -> float:
        return float(CubicSpline(*self._windings)(temperature))

    def _base_resistance(self, temperature: float) -> float:
        """As the reader sees it: what a lead adds stays as it is [Ω]."""
        return float(np.asarray(self._base.resistance)) + (
            self._coil_resistance(temperature) - self.found.coils.base.resistance
        )

    def _links(
        self, base: BaseCircuit, inductance: Array, resistance: Array, mutual: ComplexArray
    ) -> tuple[Array, Array]:
        """Chip voltage if nothing clamped it [V peak], and margin [dB] where a reading needs it, at every place."""
        if not mutual.size:
            return np.zeros(0), np.zeros(0)
        chip = self.candidate.tag.chip
        capacitor = self.candidate.tag.capacitor
        assert isinstance(capacitor, CapacitorSpecification), "both sides' capacitors are known"
        tag = TagCircuit(inductance, resistance, chip.load_resistance, capacitor.capacitance)
        if any(one.read is not None for one in self.readings):
            links = linked_circuits(self.candidate, base, tag, mutual, stepped=False)
            return links.chip_voltage, links.margin
        voltage = link_budget(self.candidate.frequency, base, tag, mutual).chip_voltage
        return voltage, np.zeros(mutual.size)


class _Surface:
    """A smooth function of permeability and shift through a table; with one row or column, of the other alone."""

    def __init__(self, across: Array, along: Array, values: Array) -> None:
        self.across, self.along, self.values = across, along, values
        both = across.size > 1 and along.size > 1
        self.spline = RectBivariateSpline(across, along, values, kx=min(3, across.size - 1), s=0) if both else None

    def __call__(self, first: float, second: float) -> float:
        if self.spline is not None:
            return float(self.spline(first, second)[0, 0])
        if self.across.size > 1:
            return _spline(self.across, self.values[:, 0], first)
        return _spline(self.along, self.values[0], second)


def _spline(at: Array, values: Array, wanted: float) -> float:
    return float(values[0]) if at.size < 2 else float(CubicSpline(at, values)(wanted))


def _grid(candidate: Candidate, places: Sequence[Reading], shift: float) -> MapGrid:
    """A map that holds every place, as low as the tag may be shifted and as high."""
    heights = [one.height for one in places if one.height is not None]
    grid = candidate.grid
    low, high = min(min(heights) + shift, *grid.heights), max(*heights, *grid.heights) + LARGEST_SHIFT
    offsets = (0.0, *grid.offsets, *(one.offset for one in places))
    tilts = (0.0, *grid.tilts, *(abs(one.tilt) for one in places))
    return MapGrid((low, high), tuple(sorted(set(offsets))), tuple(sorted(set(tilts))))


def _as_built(candidate: Candidate, coils: SolvedCoils) -> Candidate:
    """A stock part as its nominal construction with the turns that its inductance asks for."""
    tag, solved = candidate.tag, coils.tag
    return replace(
        candidate,
        tag=replace(tag, part=None, construction=_with_wire(solved.tag, solved.wire_resistance)),
    )


def _with_wire(tag: Tag, resistance: float) -> Tag:
    return replace(tag, series_resistance=resistance, wire=None)


def _with_permeability(candidate: Candidate, permeability: float, coils: SolvedCoils) -> Candidate:
    """The candidate with another permeability of its tag's core.

    A stated sensitivity holds for the core as the study has it: it becomes a factor on the coupling.
    """
    tag = candidate.tag
    assert tag.construction is not None, "it was built"
    assert tag.construction.core is not None, "only called with a core"
    core = tag.construction.core
    built = replace(
        tag.construction, core=replace(core, material=replace(core.material, relative_permeability=permeability))
    )
    correction = tag.correction
    if tag.sensitivity is not None:
        plain = solved_tag(replace(tag, sensitivity=None), candidate.frequency, 0.5 * candidate.accuracy)
        factor = abs(coils.tag.field.moments.moments[0]) / abs(plain.field.moments.moments[0])
        old = correction or Correction()
        correction = replace(old, coupling=old.coupling * factor)
    changed = replace(tag, construction=built, sensitivity=None, cold_core=None, correction=correction)
    return replace(candidate, tag=changed)
