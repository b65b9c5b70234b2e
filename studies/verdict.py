"""Whether a candidate does what is required, and by how much it misses."""

from dataclasses import dataclass
from typing import Literal

from studies.specification import Limit, Requirement

Bound = Literal["at_least", "at_most"]


ROUNDING = 1e-9
"""A current held to a limit by the drive stage comes out at it but for rounding; that meets the limit."""


ABSOLUTE_ZERO = 273.15
"""Kelvin at 0 °C: a temperature misses its limit relative to the absolute one."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """How a required quantity is shown: a name for people, its unit, and the factor from SI to that unit."""

    label: str
    unit: str
    factor: float = 1.0


QUANTITIES = {
    "margin": Quantity("margin", "dB"),
    "read_height": Quantity("read height", "mm", 1e3),
    "coil_voltage": Quantity("coil voltage", "V"),
    "capacitor_voltage": Quantity("capacitor voltage", "V"),
    "neighbour_voltage": Quantity("voltage between neighbouring turns", "V"),
    "volts_per_turn": Quantity("greatest voltage of a turn", "V"),
    "current": Quantity("base current", "mA", 1e3),
    "supply_current": Quantity("supply current", "mA", 1e3),
    "current_density": Quantity("current density", "A/mm²", 1e-6),
    "input_power": Quantity("input power", "W"),
    "field_at_10_m": Quantity("field at 10 m", "µA/m", 1e6),
    "wire_temperature": Quantity("wire temperature", "°C"),
}


SI_UNITS = {
    "margin": "dB",
    "read_height": "m",
    "coil_voltage": "V",
    "capacitor_voltage": "V",
    "neighbour_voltage": "V",
    "volts_per_turn": "V",
    "current": "A",
    "supply_current": "A",
    "current_density": "A/m2",
    "input_power": "W",
    "field_at_10_m": "A/m",
    "wire_temperature": "degC",
}
"""Of the values that a check holds; those of ``QUANTITIES`` are for people."""


@dataclass(frozen=True, slots=True)
class Check:
    """One requirement held against one candidate.

    ``got`` is None where the quantity does not exist (a tag that is read nowhere has no read height); ``shortfall`` is
    how far it misses, relative to what is required [1], 0 where it passes; ``where`` names the worst place.
    """

    quantity: str
    bound: Bound
    required: float
    got: float | None
    passed: bool
    shortfall: float
    where: str = ""

    @property
    def sentence(self) -> str:
        """The check in words, with units; by how much where it is missed."""
        place = f" ({self.where})" if self.where else ""
        missed = f", {self.apart}" if self.apart and not self.passed else ""
        return f"{QUANTITIES[self.quantity].label} {self.value}, {self._limit} required{missed}{place}"

    @property
    def label(self) -> str:
        """What is required, in words: ``coil voltage at most 150 V``."""
        return f"{QUANTITIES[self.quantity].label} {self._limit}"

    @property
    def _limit(self) -> str:
        shown = QUANTITIES[self.quantity]
        words = "at least" if self.bound == "at_least" else "at most"
        return f"{words} {self.required * shown.factor:.3g} {shown.unit}"

    @property
    def value(self) -> str:
        """What was found, with its unit; ``none`` where the quantity does not exist."""
        shown = QUANTITIES[self.quantity]
        return "none" if self.got is None else f"{self.got * shown.factor:.3g} {shown.unit}"

    @property
    def apart(self) -> str:
        """How far from what is required, and which way: ``2 dB short``, ``12 V to spare``; empty without a value."""
        if self.got is None:
            return ""
        shown = QUANTITIES[self.quantity]
        apart = abs(self.got - self.required) * shown.factor
        short = "short" if self.bound == "at_least" else "too much"
        return f"{apart:.3g} {shown.unit} {'to spare' if self.passed else short}"

    @property
    def spare(self) -> float:
        """How far inside its limit a requirement is met, relative as ``shortfall`` is [1]; negative where missed."""
        if self.got is None:
            return -1.0
        if self.quantity == "margin":
            return float(1.0 - 10.0 ** ((self.required - self.got) / 20.0))
        if self.quantity == "wire_temperature":
            return (self.required - self.got) / (abs(self.required) + ABSOLUTE_ZERO)
        if self.bound == "at_least":
            return 1.0 - self.required / self.got if self.got else -1.0
        return 1.0 - self.got / self.required if self.required else -1.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """All checks of a candidate."""

    checks: tuple[Check, ...]

    @property
    def passed(self) -> bool:
        """Whether every requirement is met."""
        return all(check.passed for check in self.checks)

    @property
    def failures(self) -> tuple[Check, ...]:
        """What is not met, worst first."""
        return tuple(sorted((c for c in self.checks if not c.passed), key=lambda c: -c.shortfall))


def verdict(require: Requirement, quantities: dict[str, float | None], places: dict[str, str]) -> Verdict:
    """Hold what was computed against what is required.

    Parameters
    ----------
    require : Requirement
        Of the study. Places without a required margin ask for 0 dB there; a study that requires nothing still asks
        that the tag be read at some height on the axis.
    quantities : dict
        Name to value in SI (dB for a margin).
    places : dict
        Name to the place where the value was found worst, in words.
    """
    at_least = list(require.at_least)
    if require.places and not any(limit.quantity == "margin" for limit in at_least):
        at_least.append(Limit("margin", 0.0))
    if not at_least and not require.at_most:
        at_least.append(Limit("read_height", 0.0))
    checks = [_check(limit, "at_least", quantities, places) for limit in at_least]
    checks += [_check(limit, "at_most", quantities, places) for limit in require.at_most]
    return Verdict(tuple(checks))


def _check(limit: Limit, bound: Bound, quantities: dict[str, float | None], places: dict[str, str]) -> Check:
    got = quantities[limit.quantity]
    where = places.get(limit.quantity, "")
    if got is None:
        return Check(limit.quantity, bound, limit.value, None, False, 1.0, where)
    room = ROUNDING * abs(limit.value)
    passed = got >= limit.value - room if bound == "at_least" else got <= limit.value + room
    shortfall = 0.0 if passed else _shortfall(limit, bound, got)
    return Check(limit.quantity, bound, limit.value, got, passed, shortfall, where)


def _shortfall(limit: Limit, bound: Bound, got: float) -> float:
    """How far a value misses: 0.5 is half of what was asked for, or twice what was allowed."""
    if limit.quantity == "margin":
        return float(1.0 - 10.0 ** (-(limit.value - got) / 20.0))
    if limit.quantity == "wire_temperature":
        return (got - limit.value) / (abs(limit.value) + ABSOLUTE_ZERO)
    if bound == "at_most":
        return 1.0 - limit.value / got
    return 1.0 - got / limit.value
