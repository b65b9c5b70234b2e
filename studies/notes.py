"""What comes to light while a candidate is put together: faults, assumptions, warnings."""

from dataclasses import dataclass, field
from typing import TypeVar

from geometries.errors import GeometryError
from geometries.materials import Material, find_material
from studies.faults import Finding, KeyPath
from studies.heat import material_warnings
from studies.schema import LEAST_PERMEABILITY, MaterialTable
from studies.specification import Assumption

_T = TypeVar("_T")
_TAG_PARTS = {"tag.material": "the core", "tag.part.material": "the core", "tag.shield.material": "the can"}


@dataclass(slots=True)
class Notes:
    """A collector; the one thing here that changes while a candidate is put together."""

    findings: list[Finding] = field(default_factory=list)
    assumptions: list[Assumption] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def impossible(self, key: str, given: str, allowed: str) -> None:
        """Note that the values, right by themselves, cannot go together."""
        self.findings.append(Finding(named_path(key), given, allowed, geometric=True))

    def refused(self, error: GeometryError, key: str | None = None) -> None:
        """Note what a check of the geometry says, once a key; ``key`` where the check does not know the file's."""
        path = named_path(key or error.key)
        if all(finding.path != path for finding in self.findings):
            self.findings.append(Finding(path, error.message, "", geometric=True))

    def chosen(self, given: _T | None, default: _T, key: str, text: str, reason: str) -> _T:
        """``given``, or ``default`` with an assumption noted."""
        if given is not None:
            return given
        self.assumptions.append(Assumption(key, text, reason))
        return default

    def material(self, given: str | MaterialTable | None, default: str, key: str, temperature: float) -> Material:
        """The material of a key at its temperature [°C], which stands beside it."""
        where = f"{key.rpartition('.')[0]}.temperature"
        return self.cold_and_heated(given, default, key, temperature, where)[1]

    def cold_and_heated(
        self, given: str | MaterialTable | None, default: str, key: str, temperature: float, where: str
    ) -> tuple[Material, Material]:
        """The material of a key at 20 °C and at the temperature [°C] that stands at ``where``."""
        usual: str | MaterialTable = default
        chosen = self.chosen(given, usual, key, default, "the usual one for this")
        found = find_material(chosen) if isinstance(chosen, str) else material_of(chosen, key)
        self._check_curve(found, key)
        try:
            found.resistivity(temperature)
        except GeometryError as error:
            self.refused(error, key)
            return Material(found.name), Material(found.name)
        self.warnings += material_warnings(found, temperature, where, _TAG_PARTS.get(key, "it"))
        return found, found.heated(temperature)

    def _check_curve(self, material: Material, key: str) -> None:
        curve, curie = material.permeability_curve, material.curie_temperature
        if curve and curie is not None and curve[-1][0] >= curie:
            given = f"its last temperature, {curve[-1][0]:g} degC, is not below the Curie point, {curie:g} degC"
            self.impossible(f"{key}.permeability_curve", given, "temperatures below curie_temperature")
        low = min(curve, key=lambda point: point[1], default=None)
        if low is not None and material.relative_permeability * low[1] < LEAST_PERMEABILITY:
            given = (
                f"its factor {low[1]:g} at {low[0]:g} degC makes {material.relative_permeability * low[1]:g} of the "
                f"relative permeability of {material.relative_permeability:g}"
            )
            allowed = f"factors that leave {LEAST_PERMEABILITY:g} or more"
            self.impossible(f"{key}.permeability_curve", given, allowed)


def material_of(table: MaterialTable, key: str) -> Material:
    """A material from the constants a study file gives."""
    resistivity = table.resistivity
    if table.conductivity:
        resistivity = 1.0 / table.conductivity
    permeability = 1.0 if table.relative_permeability is None else table.relative_permeability
    loss = table.relative_permeability_loss or 0.0
    if table.loss_factor is not None:
        loss = table.loss_factor * permeability
    return Material(
        name=f"constants of {key}",
        resistivity_20=resistivity,
        relative_permeability=permeability,
        relative_permeability_loss=loss,
        temperature_coefficient=table.temperature_coefficient or 0.0,
        curie_temperature=table.curie_temperature,
        permeability_curve=table.permeability_curve or (),
        saturation_flux_density=table.saturation_flux_density,
    )


def named_path(key: str) -> KeyPath:
    """A key as the checks of the geometry spell it, ``layers.heater.pitch``, as a path."""
    return tuple(key.split("."))
