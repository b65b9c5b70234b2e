"""The heater's ribbon: its length, its resistance, and the thickness its rating implies.

A meander, an open or shorted spiral and a set of rings all cover an annulus with ribbon at one pitch; the bends of a
meander and the leads are neglected, a few percent of the length. The resistivity is the ribbon's at its working
temperature, since a rating is stamped for the hot heater; nickel-chromium changes by 2 % up to 400 °C.
"""

from math import pi

from geometries.errors import GeometryError


def ribbon_length(outer_radius: float, inner_radius: float, pitch: float) -> float:
    """Length of ribbon that covers an annulus.

    Parameters
    ----------
    outer_radius, inner_radius : float
        Extent of the covered annulus [m].
    pitch : float
        Distance from one ribbon's middle to the next [m].

    Returns
    -------
    float
        Covered area over pitch [m].

    Raises
    ------
    GeometryError
        Where nothing is covered or the pitch is not above 0.
    """
    _require_positive(pitch=pitch)
    if not 0.0 <= inner_radius < outer_radius:
        raise GeometryError(
            "inner_radius", f"{inner_radius:g} m does not lie between 0 and the outer radius of {outer_radius:g} m"
        )
    return pi * (outer_radius**2 - inner_radius**2) / pitch


def ribbon_resistance(resistivity: float, length: float, width: float, thickness: float) -> float:
    """Resistance of a ribbon from end to end.

    Parameters
    ----------
    resistivity : float
        At the working temperature [Ω m].
    length, width, thickness : float
        [m].

    Returns
    -------
    float
        [Ω].

    Raises
    ------
    GeometryError
        Where any of them is not above 0.
    """
    _require_positive(resistivity=resistivity, length=length, width=width, thickness=thickness)
    return resistivity * length / (width * thickness)


def rated_resistance(power: float, voltage: float) -> float:
    """Resistance V²/P that a heater's rating implies [Ω], from ``power`` [W] and rms ``voltage`` [V].

    Raises
    ------
    GeometryError
        Where either is not above 0.
    """
    _require_positive(power=power, voltage=voltage)
    return voltage**2 / power


def ribbon_thickness_from_rating(
    resistivity: float, length: float, width: float, power: float, voltage: float
) -> float:
    """Thickness of the ribbon that a heater's rating implies.

    Parameters
    ----------
    resistivity : float
        At the working temperature [Ω m].
    length, width : float
        [m].
    power : float
        Rated power [W].
    voltage : float
        Rated voltage, rms [V].

    Returns
    -------
    float
        ρ · length · P / (width · V²) [m].

    Raises
    ------
    GeometryError
        Where any of them is not above 0.
    """
    _require_positive(resistivity=resistivity, length=length, width=width)
    return resistivity * length / (width * rated_resistance(power, voltage))


def _require_positive(**quantities: float) -> None:
    for name, value in quantities.items():
        if not value > 0.0:
            raise GeometryError(name, f"{value:g} was given; it must be above 0")
