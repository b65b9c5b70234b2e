"""Bare diameters of the American wire gauges."""

from geometries.errors import GeometryError

_ZEROS = {"0000": -3, "000": -2, "00": -1, "0": 0}
_FINEST = 56


def gauge_names() -> tuple[str, ...]:
    """Names of all gauges, thickest first: "AWG 0000" to "AWG 56"."""
    return tuple(f"AWG {name}" for name in (*_ZEROS, *map(str, range(1, _FINEST + 1))))


def gauge_diameter(gauge: str, key: str = "gauge") -> float:
    """Bare diameter of a wire by its gauge.

    Parameters
    ----------
    gauge : str
        Such as "AWG 30"; capitals and the blank do not matter.
    key : str
        Key path of the study file that an error should name.

    Returns
    -------
    float
        Bare diameter, not rounded [m].

    Raises
    ------
    GeometryError
        For anything that is not a gauge from 0000 to 56.

    Notes
    -----
    d = 0.127 mm · 92^((36 − n)/39), n = −3 for 0000. The standard's own tables round the result (to a tenth of a mil
    for thick wire), so a printed diameter may differ in its last digit.

    References
    ----------
    ASTM B258, Standard nominal diameters and cross-sectional areas of AWG sizes of solid round wires.
    """
    return float(0.127e-3 * 92.0 ** ((36 - _gauge_number(gauge, key)) / 39.0))


def _gauge_number(gauge: str, key: str) -> int:
    text = gauge.strip().upper()
    name = text.removeprefix("AWG").strip()
    if text.startswith("AWG"):
        if name in _ZEROS:
            return _ZEROS[name]
        if name.isascii() and name.isdigit() and not name.startswith("0") and int(name) <= _FINEST:
            return int(name)
    raise GeometryError(
        key,
        f"{gauge!r} is not a wire gauge; allowed are AWG 0000, AWG 000, AWG 00, AWG 0 and AWG 1 to AWG {_FINEST}, "
        'written like "AWG 30", or give the bare diameter',
    )
