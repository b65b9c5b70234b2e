"""Dielectrics of tuning capacitors by name, and how a capacitance drifts with temperature."""

import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from typing import Any

from geometries.errors import GeometryError


class UnknownDielectric(LookupError):  # noqa: N818 - the name is what it says
    """A name that is not in the table; ``matches`` are the names most like it."""

    def __init__(self, name: str, matches: tuple[str, ...]) -> None:
        likely = ", ".join(repr(match) for match in matches)
        advice = f"best matches are {likely}" if matches else "allowed are " + ", ".join(map(repr, dielectric_names()))
        super().__init__(f"no dielectric is called {name!r}; {advice}")
        self.name = name
        self.matches = matches

    def __reduce__(self) -> tuple[type, tuple[str, tuple[str, ...]]]:
        return type(self), (self.name, self.matches)


@dataclass(frozen=True, slots=True)
class Dielectric:
    """How a capacitor's dielectric moves with temperature.

    Parameters
    ----------
    name : str
        Name as a study file spells it.
    reference_temperature : float
        Where the nominal capacitance holds [°C].
    temperature_range : (float, float)
        What it stands [°C].
    source : str
        Where the constants come from.
    temperature_coefficient, coefficient_band : float
        Of the capacitance, and the ± on it [1/K]; used where there is no curve.
    curve : tuple of (float, float)
        Rising temperatures [°C] with the factor on the nominal capacitance [1]; empty for a linear dielectric.
    band : float
        ± on the factor of a curve, about 1 and not about the curve, as the class of the dielectric allows it [1].
    aliases : tuple of str
        Other names.
    """

    name: str
    reference_temperature: float
    temperature_range: tuple[float, float]
    source: str
    temperature_coefficient: float = 0.0
    coefficient_band: float = 0.0
    curve: tuple[tuple[float, float], ...] = ()
    band: float = 0.0
    aliases: tuple[str, ...] = ()

    def factors(self, temperature: float) -> tuple[float, float, float]:
        """Factor on the nominal capacitance at ``temperature`` [°C]: typical, and the least and greatest allowed [1].

        Outside its temperatures a curve keeps the factor of its nearer end, and a line goes on.
        """
        if temperature == self.reference_temperature:
            return 1.0, 1.0, 1.0
        if self.curve:
            return _on_curve(self.curve, temperature), 1.0 - self.band, 1.0 + self.band
        step = temperature - self.reference_temperature
        typical, spread = 1.0 + self.temperature_coefficient * step, abs(self.coefficient_band * step)
        return typical, typical - spread, typical + spread


def capacitance(nominal: float, dielectric: Dielectric, temperature: float) -> float:
    """Capacitance at a temperature.

    Parameters
    ----------
    nominal : float
        At the dielectric's reference temperature [F].
    dielectric : Dielectric
        Its typical course is taken.
    temperature : float
        [°C].

    Returns
    -------
    float
        [F].

    Raises
    ------
    GeometryError
        Where the law has run down to zero, far beyond what the dielectric stands.
    """
    return capacitance_range(nominal, dielectric, temperature)[0]


def capacitance_range(nominal: float, dielectric: Dielectric, temperature: float) -> tuple[float, float, float]:
    """Typical, least and greatest capacitance that a dielectric allows at a temperature; as `capacitance` [F]."""
    factors = dielectric.factors(temperature)
    if min(factors) <= 0.0:
        raise GeometryError(
            dielectric.name,
            f"its law of capacitance gives nothing positive at {temperature:g} °C for all that it allows",
        )
    typical, least, greatest = (nominal * factor for factor in factors)
    return typical, least, greatest


def _on_curve(curve: tuple[tuple[float, float], ...], temperature: float) -> float:
    if temperature <= curve[0][0]:
        return curve[0][1]
    for (low, before), (high, after) in pairwise(curve):
        if temperature <= high:
            return before + (after - before) * (temperature - low) / (high - low)
    return curve[-1][1]


def find_dielectric(name: str) -> Dielectric:
    """Dielectric of the table by its name or another name of it; capitals and surrounding blanks do not matter.

    Raises
    ------
    UnknownDielectric
        With the names most like it.
    """
    table = _dielectrics()
    wanted = " ".join(name.lower().split())
    if wanted not in table:
        alike = get_close_matches(wanted, table, n=3, cutoff=0.6)
        raise UnknownDielectric(name, tuple(dict.fromkeys(table[match].name for match in alike)))
    return table[wanted]


def dielectric_names() -> tuple[str, ...]:
    """Names of all dielectrics in the table, in its order."""
    return tuple(dict.fromkeys(dielectric.name for dielectric in _dielectrics().values()))


@cache
def _dielectrics() -> dict[str, Dielectric]:
    from importlib.resources import files

    text = files("geometries").joinpath("data", "dielectrics.toml").read_text(encoding="utf-8")
    found = [_dielectric(name, entry) for name, entry in tomllib.loads(text).items()]
    return {name.lower(): one for one in found for name in (one.name, *one.aliases)}


def _dielectric(name: str, entry: dict[str, Any]) -> Dielectric:
    constants = dict(entry)
    low, high = constants["temperature_range"]
    constants["temperature_range"] = (float(low), float(high))
    constants["reference_temperature"] = float(constants["reference_temperature"])
    constants["aliases"] = tuple(constants.get("aliases", ()))
    constants["curve"] = tuple((float(at), float(factor)) for at, factor in constants.get("curve", ()))
    return Dielectric(name=name, **constants)
