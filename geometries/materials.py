"""Materials by name, every constant with its source."""

from dataclasses import dataclass


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
        Real part μ' of the relative permeability [1].
    relative_permeability_loss : float
        μ'', so that μ = μ0 (μ' − jμ'') [1].
    density : float or None
        Mass density [kg/m³].
    curie_temperature : float or None
        Temperature above which the permeability is lost [°C].
    source : str
        Where the constants come from.
    """

    name: str
    resistivity_20: float | None = None
    temperature_coefficient: float = 0.0
    relative_permeability: float = 1.0
    relative_permeability_loss: float = 0.0
    density: float | None = None
    curie_temperature: float | None = None
    source: str = "given in the study file"

    @property
    def permeability(self) -> complex:
        """Complex relative permeability μ' − jμ'' [1]."""
        return complex(self.relative_permeability, -self.relative_permeability_loss)

    @property
    def magnetic(self) -> bool:
        """Whether the relative permeability differs from 1."""
        return self.permeability != 1.0

    def resistivity(self, temperature: float) -> float | None:
        """Resistivity at ``temperature`` [°C], by the linear law [Ω m]; None for an insulator."""
        if self.resistivity_20 is None:
            return None
        return self.resistivity_20 * (1.0 + self.temperature_coefficient * (temperature - 20.0))

    def conductivity(self, temperature: float) -> float:
        """Conductivity at ``temperature`` [°C] [S/m]; 0 for an insulator."""
        resistivity = self.resistivity(temperature)
        return 0.0 if resistivity is None else 1.0 / resistivity
