"""Results as plain text for a terminal."""

from studies.evaluation import Row
from studies.stored import StoredDesign

SCALES = (("G", 1e9), ("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("µ", 1e-6), ("n", 1e-9), ("p", 1e-12))
UNITS = {
    "H": "H",
    "ohm": "Ω",
    "F": "F",
    "V": "V",
    "A": "A",
    "W": "W",
    "Hz": "Hz",
    "m": "m",
    "T": "T",
    "s": "s",
}
KEPT = {"dB": "dB", "m2": "m²", "A_per_m2": "A/m²", "A_per_m": "A/m", "kg": "kg"}


def engineering(value: float, unit: str, digits: int = 4) -> str:
    """A number with its unit and an SI prefix."""
    if value == 0.0:
        return f"0 {unit}"
    for prefix, scale in SCALES:
        if abs(value) >= scale * 0.9995:
            return f"{value / scale:.{digits}g} {prefix}{unit}"
    return f"{value:.{digits}g} {unit}"


def row_lines(row: Row) -> list[str]:
    """A design's numbers, a line each: name, value, unit."""
    width = max(len(_name(name)) for name in row)
    return [f"{_name(name):<{width}}  {_value(name, value)}" for name, value in row.items() if value not in (None, "")]


def _unit(name: str) -> str | None:
    for suffix in (*KEPT, *UNITS):
        if name.endswith(f"_{suffix}"):
            return suffix
    return None


def _name(name: str) -> str:
    unit = _unit(name)
    return (name if unit is None else name.removesuffix(f"_{unit}")).replace("_", " ")


def _value(name: str, value: float | int | str | bool | None) -> str:
    unit = _unit(name)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and unit in UNITS:
        return engineering(value, UNITS[unit])
    if isinstance(value, float):
        return f"{value:.4g} {KEPT[unit]}" if unit in KEPT else f"{value:.4g}"
    return str(value)


def candidate_lines(designs: tuple[StoredDesign, ...]) -> list[str]:
    """One line a candidate: name, swept values, verdict and what it misses."""
    lines = []
    for stored in designs:
        swept = ", ".join(f"{_last(key)} {_swept(value)}" for key, value in stored.row.items() if "." in key)
        if stored.status == "failed":
            lines.append(f"{stored.design}  failed  {swept}: {stored.message}")
        elif stored.passed:
            lines.append(f"{stored.design}  pass    {swept}: margin {stored.row['margin_dB']:.1f} dB")
        else:
            lines.append(f"{stored.design}  fail    {swept}: {stored.failures[0].sentence}")
    return lines


def _last(key: str) -> str:
    return key.rpartition(".")[2].replace("_", " ")


def _swept(value: float | int | str | bool | None) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
