"""Materials by name, every constant with its source."""

import tomllib
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from itertools import pairwise
from typing import Any

from geometries.errors import GeometryError


class UnknownMaterial(LookupError):  # noqa: N818 - the name is what it says
    """A name that is not in the table; ``matches`` are the names most like it."""

    def __init__(self, name: str, matches: tuple[str, ...]) -> None:
        likely = ", ".join(repr(match) for match in matches)
        advice = f"best matches are {likely}" if matches else "allowed are " + ", ".join(map(repr, material_names()))
        super().__init__(f"no material is called {name!r}; {advice}, or give its constants")
        self.name = name
        self.matches = matches

    def __reduce__(self) -> tuple[type, tuple[str, tuple[str, ...]]]:
        return type(self), (self.name, self.matches)


@dataclass(frozen=True, slots=True)
class Material:
    """Electrical and magnetic constants of a material.

    Parameters
    ----------
    name : str
        Name as a study file spells it.
    resistivity_20 : float or None
        Resistivity at 20 °C [Ω m]; None for an insulator.
    temperature_coefficient : float
        Linear temperature coefficient of resistivity, relative to 20 °C [1/K].
    relative_permeability : float
        Real part μ' of the relative permeability, of the cold material in a weak field [1].
    relative_permeability_loss : float
        μ'', so that μ = μ0 (μ' − jμ'') [1].
    density : float or None
        Mass density [kg/m³].
    curie_temperature : float or None
        Temperature from which up the permeability is lost [°C].
    permeability_curve : tuple of (float, float)
        Rising temperatures [°C], each with the factor on ``relative_permeability`` there [1]; empty where the
        permeability is taken to keep its value up to the Curie temperature.
    saturation_flux_density : float or None
        Beyond which a strong field magnetises it no further, at 20 °C [T]; None where it is not known.
    source : str
        Where the constants come from.
    resistivity_source, temperature_source, permeability_source, density_source, curie_source : str
    permeability_curve_source, saturation_source : str
        Where each constant comes from; empty where the constant is the default.
    temperature_range : (float, float) or None
        Temperatures over which the linear law was compared with its source [°C].
    note : str
        What a designer should be told who uses the material; empty where there is nothing to say.
    """

    name: str
    resistivity_20: float | None = None
    temperature_coefficient: float = 0.0
    relative_permeability: float = 1.0
    relative_permeability_loss: float = 0.0
    density: float | None = None
    curie_temperature: float | None = None
    permeability_curve: tuple[tuple[float, float], ...] = ()
    saturation_flux_density: float | None = None
    source: str = "given in the study file"
    resistivity_source: str = ""
    temperature_source: str = ""
    permeability_source: str = ""
    density_source: str = ""
    curie_source: str = ""
    permeability_curve_source: str = ""
    saturation_source: str = ""
    temperature_range: tuple[float, float] | None = None
    note: str = ""

    @property
    def permeability(self) -> complex:
        """Complex relative permeability μ' − jμ'' of the cold material [1]."""
        return complex(self.relative_permeability, -self.relative_permeability_loss)

    @property
    def magnetic(self) -> bool:
        """Whether the relative permeability differs from 1."""
        return self.permeability != 1.0

    def resistivity(self, temperature: float) -> float | None:
        """Resistivity at a temperature, by the linear law.

        Parameters
        ----------
        temperature : float
            [°C].

        Returns
        -------
        float or None
            [Ω m]; None for an insulator.

        Raises
        ------
        GeometryError
            Where the linear law has run down to zero, which no material does.
        """
        if self.resistivity_20 is None:
            return None
        factor = 1.0 + self.temperature_coefficient * (temperature - 20.0)
        if factor <= 0.0:
            raise GeometryError(
                self.name,
                f"its linear law of resistivity, {self.temperature_coefficient:g} per K from 20 °C, "
                f"gives nothing positive at {temperature:g} °C",
            )
        return self.resistivity_20 * factor

    def conductivity(self, temperature: float) -> float:
        """Conductivity at ``temperature`` [°C] [S/m]; 0 for an insulator."""
        resistivity = self.resistivity(temperature)
        return 0.0 if resistivity is None else 1.0 / resistivity

    def saturation(self, temperature: float) -> float | None:
        """Saturation flux density at ``temperature`` [°C] [T]; 0 from the Curie temperature up, None where unknown.

        Notes
        -----
        It falls as √((T_c − T)/(T_c − 20 °C)), the mean-field form just below the Curie point carried down to 20 °C,
        and keeps its value where it is colder or T_c is not known. Common power grades have a fifth less at 100 °C
        (from memory); the law gives a quarter less there.
        """
        if self.saturation_flux_density is None or self.curie_temperature is None or temperature <= 20.0:
            return self.saturation_flux_density
        left = (self.curie_temperature - temperature) / (self.curie_temperature - 20.0)
        return self.saturation_flux_density * max(left, 0.0) ** 0.5 if self.curie_temperature > 20.0 else 0.0

    def heated(self, temperature: float) -> "Material":
        """The same material as the field sees it at ``temperature`` [°C]: its permeability there, its curve used up.

        Resistivity and saturation are left to `resistivity` and `saturation`, which know the temperature.

        Notes
        -----
        Straight lines join the points of the permeability's curve; before the first its factor is kept. From the last
        a straight line falls to μ = 1 at the Curie temperature, which is how makers read that temperature off a
        measured fall (from memory). From there up, and with no curve as well, μ = 1. The loss part moves with the
        susceptibility μ' − 1: the loss factor's own course with temperature is not known here.
        """
        if self._beyond_curie(temperature):
            return replace(self, relative_permeability=1.0, relative_permeability_loss=0.0, permeability_curve=())
        cold, real = self.relative_permeability, self._real_permeability(temperature)
        if real == cold:
            return self
        return self.biased(real)

    def biased(self, permeability: float) -> "Material":
        """The same material with another real ``permeability`` [1], its loss part with the susceptibility."""
        cold = self.relative_permeability
        share = (permeability - 1.0) / (cold - 1.0) if cold != 1.0 else 1.0
        loss = share * self.relative_permeability_loss
        return replace(self, relative_permeability=permeability, relative_permeability_loss=loss, permeability_curve=())

    def _beyond_curie(self, temperature: float) -> bool:
        return self.curie_temperature is not None and temperature >= self.curie_temperature

    def _real_permeability(self, temperature: float) -> float:
        """μ' at a ``temperature`` below the Curie point [°C] [1]."""
        points = [(at, self.relative_permeability * factor) for at, factor in self.permeability_curve]
        if not points:
            return self.relative_permeability
        if self.curie_temperature is not None:
            points.append((self.curie_temperature, 1.0))
        if temperature <= points[0][0]:
            return points[0][1]
        for (low, before), (high, after) in pairwise(points):
            if temperature <= high:
                return before + (after - before) * (temperature - low) / (high - low)
        return points[-1][1]


def find_material(name: str) -> Material:
    """Material of the table by its name.

    Parameters
    ----------
    name : str
        As in `material_names`; capitals and surrounding blanks do not matter.

    Returns
    -------
    Material

    Raises
    ------
    UnknownMaterial
        With the names most like it.
    """
    table = _materials()
    wanted = " ".join(name.lower().split())
    if wanted not in table:
        holding = [known for known in table if wanted and wanted in known]
        alike = get_close_matches(wanted, table, n=3, cutoff=0.6)
        raise UnknownMaterial(name, tuple(dict.fromkeys([*holding, *alike])))
    return table[wanted]


def material_names() -> tuple[str, ...]:
    """Names of all materials in the table, in its order."""
    return tuple(_materials())


@cache
def _materials() -> dict[str, Material]:
    # Imported here: nothing that only uses Material should pay for it.
    from importlib.resources import files

    text = files("geometries").joinpath("data", "materials.toml").read_text(encoding="utf-8")
    return {name: _material(name, entry) for name, entry in tomllib.loads(text).items()}


def _material(name: str, entry: dict[str, Any]) -> Material:
    constants = dict(entry)
    if "temperature_range" in constants:
        low, high = constants["temperature_range"]
        constants["temperature_range"] = (float(low), float(high))
    if "permeability_curve" in constants:
        constants["permeability_curve"] = tuple(
            (float(at), float(factor)) for at, factor in entry["permeability_curve"]
        )
    sources = dict.fromkeys(text for key, text in entry.items() if key.endswith("_source"))
    return Material(name=name, source="; ".join(sources), **constants)
