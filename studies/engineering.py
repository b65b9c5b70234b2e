"""Numbers as an engineer writes them. Light: `check` shows numbers without loading what solves."""

from math import pi

from studies.specification import Place

SCALES = (("G", 1e9), ("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("µ", 1e-6), ("n", 1e-9), ("p", 1e-12))


def engineering(value: float, unit: str, digits: int = 4) -> str:
    """A number with its unit and an SI prefix."""
    if value == 0.0:
        return f"0 {unit}"
    for prefix, scale in SCALES:
        if abs(value) >= scale * 0.9995:
            return f"{value / scale:.{digits}g} {prefix}{unit}"
    return f"{value:.{digits}g} {unit}"


def millimetres(length: float) -> str:
    """A length [m] in millimetres."""
    return f"{length * 1e3:.3g} mm"


def tilt_text(tilt: float) -> str:
    """A tilt [rad] in degrees."""
    return f"{tilt * 180.0 / pi:.3g}°"


def place_text(place: Place) -> str:
    """A place in words."""
    return f"{millimetres(place.height)} up, {millimetres(place.offset)} off, {tilt_text(place.tilt)} tilt"
