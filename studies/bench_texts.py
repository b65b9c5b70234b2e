"""What readings from a bench say, in sentences and as a table in the terminal."""

from collections.abc import Sequence
from math import sqrt

import numpy as np

from studies.bench_fit import CONFIDENCE, OUTLYING, Compared, Fitted, Found, decibels
from studies.bench_model import PERMEABILITY, SHIFT, TEMPERATURE
from studies.engineering import engineering, place_text
from studies.measured_list import SIGMAS, Reading
from studies.specification import Place

NAMES = {
    PERMEABILITY: "effective permeability of the tag's core",
    TEMPERATURE: "temperature of the base coil's wire",
    SHIFT: "height of the tag above that read off",
}
LABELS = {
    "coupling_coefficient": "k",
    "mutual_inductance": "M",
    "chip_voltage": "chip voltage",
    "base_inductance": "L of the base coil",
    "base_resistance": "R of the base coil",
    "base_quality": "Q of the base coil",
    "tag_inductance": "L of the tag",
    "tag_resistance": "R of the tag",
    "tag_quality": "Q of the tag",
    "margin": "read / not read",
}
UNITS = {
    "mutual_inductance": "H", "chip_voltage": "V", "base_inductance": "H", "base_resistance": "ohm",
    "tag_inductance": "H", "tag_resistance": "ohm",
}  # fmt: skip

WELL, ILL = 2.0, 4.0
"""χ² over its degrees of freedom up to which the readings agree, and from which they do not (5 % and fewer of lists
with ten readings or more pass the first by chance)."""

BIAS = 3.0
"""Standard errors from which on a mean difference is no chance."""

MOST_NAMED = 8


def value_text(key: str, value: float, digits: int = 4) -> str:
    """An unknown with its unit."""
    if key == TEMPERATURE:
        return f"{value:.{max(digits - 1, 1)}g} °C"
    return f"{value * 1e3:+.2f} mm" if key == SHIFT else f"{value:.{digits}g}"


def found_text(found: Found) -> str:
    """An unknown with its interval, or why it was held."""
    key = found.unknown.key
    value = value_text(key, found.value)
    if found.held:
        return f"{NAMES[key]}: {value}, {found.held}"
    ends = f"{value_text(key, found.low)} to {value_text(key, found.high)}"
    edge = ", at the edge of what is possible" if found.at_edge else ""
    return f"{NAMES[key]}: {value} ({ends}); the study has {value_text(key, found.unknown.nominal)}{edge}"


def shown(quantity: str, value: float) -> str:
    """A measured or computed value with its unit."""
    if quantity == "margin":
        return f"{value:+.1f} dB"
    return engineering(value, UNITS[quantity]) if quantity in UNITS else f"{value:.4g}"


def where_text(reading: Reading) -> str:
    """Where a reading was taken."""
    if reading.height is None:
        return "coils by themselves"
    return place_text(Place(reading.height, reading.offset, reading.tilt))


def _at_text(reading: Reading) -> str:
    return "" if reading.height is None else f" at {where_text(reading)}"


def headline(fitted: Fitted) -> str:
    """The one sentence."""
    values = [one for one in fitted.compared if not one.plain and not one.clamped]
    plain = [one for one in fitted.compared if one.plain]
    moved = [one for one in fitted.unknowns if not one.held]
    varied = f", with {', '.join(_moved(one) for one in moved)}" if moved else ", as the study has it"
    if values and fitted.degrees:
        agree, they, their = ("agrees", "it is", "its") if len(values) == 1 else ("agree", "they are", "their")
        deny = "does not agree" if len(values) == 1 else "do not agree"
        word = agree if fitted.misfit <= WELL else f"roughly {agree}" if fitted.misfit <= ILL else deny
        return (
            f"{_readings(values)} {word} with the design{varied}: {they} off by {sqrt(fitted.misfit):.2g} of "
            f"{their} uncertainty (rms), {sqrt(fitted.misfit_before):.2g} before"
        )
    if values:
        farthest = max(abs(one.deviation) for one in values)
        if farthest > OUTLYING:
            return (
                f"{_readings(values)} cannot be explained{varied}: off by up to {farthest:.2g} standard uncertainties "
                "whatever the unknowns are"
            )
        return f"{_readings(values)} cannot be tested: as many unknowns were found from them{varied}"
    right = sum(one.residual == 0.0 for one in plain)
    return f"{right} of {len(plain)} places read or not as computed{varied}"


def _readings(some: Sequence[object]) -> str:
    return f"{len(some)} reading{'s' * (len(some) != 1)}"


def percent(share: float, sign: str = "+") -> str:
    """A share with its sign, or without one, never with an exponent."""
    value = 100.0 * share
    return f"{value:{sign}.2g} %" if abs(value) < 10.0 else f"{value:{sign}.0f} %"


def _moved(one: Found) -> str:
    words = {PERMEABILITY: "an effective permeability of", TEMPERATURE: "the wire at", SHIFT: "the tag higher by"}
    value = f"{one.value * 1e3:.2f} mm" if one.unknown.key == SHIFT else value_text(one.unknown.key, one.value)
    return f"{words[one.unknown.key]} {value}"


def unexplained(fitted: Fitted, spread: float, field_errors: dict[str, float]) -> list[str]:
    """What the unknowns leave, in sentences.

    Parameters
    ----------
    fitted : Fitted
        As found.
    spread : float
        Relative ± on M and k that a stock part's unknown construction leaves [1].
    field_errors : dict
        Largest estimated relative error of M over the readings of a quantity [1].
    """
    told = []
    if fitted.degrees:
        told.append(_misfit_text(fitted))
    for quantity in dict.fromkeys(one.quantity for one in fitted.compared):
        some = [one for one in fitted.compared if one.quantity == quantity and not one.clamped]
        if not some:
            continue
        if quantity == "margin":
            wrong = [one for one in some if one.residual > 0.0]
            if wrong:
                worst = max(wrong, key=lambda one: one.residual)
                verb = "was read" if worst.measured else "was not read"
                told.append(
                    f"{len(wrong)} of {len(some)} places read or not against the computed margin; the farthest "
                    f"{verb} at {where_text(worst.reading)}, where the margin is {worst.after:+.1f} dB"
                )
            continue
        told.append(_mean_text(quantity, some, spread, field_errors.get(quantity, 0.0)))
    far = [one for one in fitted.outlying if not one.plain]
    told += [
        f"Line {one.reading.line}: {LABELS[one.quantity]}{_at_text(one.reading)} is off by "
        f"{one.deviation:+.1f} standard uncertainties ({percent(one.residual)})"
        for one in far[:MOST_NAMED]
    ]
    if len(far) > MOST_NAMED:
        told.append(f"{len(far) - MOST_NAMED} more readings are off by more than {OUTLYING:g} standard uncertainties")
    clamped = sum(one.clamped for one in fitted.compared)
    if clamped:
        told.append(f"{clamped} chip voltages are at the chip's clamp: they tell that the tag is fed, nothing more")
    return told


def _misfit_text(fitted: Fitted) -> str:
    before = fitted.misfit_before
    size = f"χ² is {fitted.misfit:.2g} a degree of freedom ({fitted.degrees} of them; {before:.2g} before)"
    if fitted.misfit <= WELL:
        return f"What is left is no larger than the stated uncertainties: {size}"
    return (
        f"What is left is {sqrt(fitted.misfit):.2g} times the stated uncertainties: {size}; the intervals are wider by "
        "as much. Something is not in the model, or the readings are less sure than stated"
    )


def _mean_text(quantity: str, some: list[Compared], spread: float, field_error: float) -> str:
    ratios = np.log([one.measured / one.after for one in some])
    weights = np.array([one.sigma for one in some]) ** -2.0
    mean, error = float(np.average(ratios, weights=weights)), float(weights.sum() ** -0.5)
    rms = float(np.sqrt(np.mean(ratios**2)))
    text = (
        f"{LABELS[quantity]}: {_readings(some)}, measured over computed "
        f"{percent(float(np.exp(mean)) - 1.0)} ± {percent(error, '')} in the mean "
        f"({decibels(float(np.exp(mean))):+.2f} dB), {percent(rms, '')} rms"
    )
    if abs(mean) <= BIAS * error or len(some) < 2:
        return text
    known = field_error + spread
    if abs(mean) <= known:
        return f"{text}: more than chance, and within what is uncertain of the computed one (± {100 * known:.2g} %)"
    return f"{text}: more than chance, and more than is uncertain of the computed one (± {100 * known:.2g} %)"


def notes(fitted: Fitted, state: str) -> list[str]:
    """What the figures rest on."""
    assumed = [one for one in fitted.compared if not one.plain and one.reading.uncertainty is None]
    told = [
        f"State: {state}. Capacitors are those that the design is fitted with; the drive is as in the study.",
        f"Intervals hold for all unknowns together with {100 * CONFIDENCE:g} % confidence (Bonferroni), if readings "
        "are off independently of each other by their uncertainties and the model is right but for the unknowns.",
        "The effective permeability is the tag's L over its L without the core. It is found by way of the core's own "
        "permeability; turns and dimensions stay as computed.",
        "The temperature is that of the base coil's wire alone; what surroundings reflect stays as computed.",
        "Tilts are signed as read: positive where the top leans outward.",
    ]
    if assumed:
        kinds = dict.fromkeys(one.quantity for one in assumed)
        stated = ", ".join(f"{LABELS[kind]} {100 * SIGMAS[kind]:g} %" for kind in kinds)
        verb = "states" if len(assumed) == 1 else "state"
        told.append(f"{_readings(assumed)} {verb} no uncertainty; taken: {stated} (common practice, no source).")
    if any(one.plain for one in fitted.compared):
        told.append("Read or not is weighed by the computed margin, uncertain by 1 dB.")
    return told
