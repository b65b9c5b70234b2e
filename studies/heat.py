"""What a designer should be told of the temperatures of a candidate: each text names its key and the bound."""

from geometries.dielectrics import Dielectric
from geometries.materials import Material
from geometries.stack import Layer, Stack
from geometries.wire import Wire
from studies.specification import CoilSpecification


def material_warnings(cold: Material, temperature: float, key: str, what: str = "it") -> list[str]:
    """Where a ``temperature`` [°C], given at ``key``, takes a material beyond what is known of it.

    Parameters
    ----------
    cold : Material
        As the table or the study file gives it, not heated yet.
    temperature : float
        [°C].
    key : str
        Key path of the temperature.
    what : str
        What is made of the material.
    """
    found = []
    if cold.resistivity_20 is not None and cold.temperature_range is not None:
        low, high = cold.temperature_range
        if not low <= temperature <= high:
            found.append(
                f"{key}: {_degrees(temperature)} lies outside {low:g} to {_degrees(high)}, over which the resistivity "
                f"of {cold.name} is known here; its linear law is carried on"
            )
    if not cold.magnetic:
        return found
    curie = cold.curie_temperature
    if curie is not None and temperature >= curie:
        place = "above" if temperature > curie else "at"
        found.append(
            f"{key}: {_degrees(temperature)} is {place} the Curie point of {cold.name}, {_degrees(curie)}: "
            f"{what} is no longer magnetic"
        )
    elif cold.permeability_curve:
        found += _outside_curve(cold, temperature, key)
    return found


def _outside_curve(cold: Material, temperature: float, key: str) -> list[str]:
    low, high = cold.permeability_curve[0][0], cold.permeability_curve[-1][0]
    if low <= temperature <= high:
        return []
    if temperature > high and cold.curie_temperature is not None:
        words = f"from there to its Curie point, {_degrees(cold.curie_temperature)}, a straight fall is assumed"
    else:
        words = "the factor of its nearer end is kept"
    return [
        f"{key}: {_degrees(temperature)} lies outside {low:g} to {_degrees(high)}, over which the permeability of "
        f"{cold.name} is known here; {words}"
    ]


def dielectric_warnings(dielectric: Dielectric, temperature: float, key: str) -> list[str]:
    """Where a capacitor is warmer or colder than its dielectric stands; ``key`` is the temperature's."""
    low, high = dielectric.temperature_range
    if low <= temperature <= high:
        return []
    side, bound = ("above", high) if temperature > high else ("below", low)
    return [f"{key}: {_degrees(temperature)} is {side} the {_degrees(bound)} that {dielectric.name} stands"]


def wire_warnings(wire: Wire, key: str) -> list[str]:
    """Where a wire is hotter than its covering stands; ``key`` is the wire's."""
    if wire.rated_temperature is None or wire.temperature <= wire.rated_temperature:
        return []
    return [
        f"{key}.temperature: {_degrees(wire.temperature)} is hotter than the {_degrees(wire.rated_temperature)} its "
        f"covering stands ({key}.rated_temperature)"
    ]


def layer_warnings(stack: Stack, coil: CoilSpecification) -> list[str]:
    """Where a layer that the base coil lies against is hotter than the wire's covering stands."""
    rated = coil.wire.rated_temperature
    if rated is None:
        return []
    return [
        f"layers.{layer.name}.temperature: {_degrees(layer.temperature)} is above the {_degrees(rated)} that the "
        f"covering of the wire next to it stands (base_coil.wire.rated_temperature)"
        for layer in _neighbours(stack, coil.under)
        if layer.temperature > rated
    ]


def _neighbours(stack: Stack, under: str) -> list[Layer]:
    """The nearest layers above and below the base coil that are no gaps."""
    names = [layer.name for layer in stack.layers]
    first = names.index(under) + 1 if under in names else 0
    above = [layer for layer in stack.layers[:first] if layer.kind != "gap"]
    below = [layer for layer in stack.layers[first:] if layer.kind != "gap"]
    return above[-1:] + below[:1]


def tag_warnings(wire: Wire, temperature: float) -> list[str]:
    """Where the tag, at ``temperature`` [°C], is hotter than the covering of its wire stands."""
    rated = wire.rated_temperature
    if rated is None or temperature <= rated or wire.temperature >= temperature:
        return []  # a wire that is no cooler than the tag is told of by itself
    return [
        f"tag.temperature: {_degrees(temperature)} is above the {_degrees(rated)} that the covering of its wire stands "
        "(tag.wire.rated_temperature)"
    ]


def _degrees(temperature: float) -> str:
    return f"{temperature:g} degC"
