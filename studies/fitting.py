"""Tuning capacitors as they are bought: chosen from preferred values, off by their tolerance; and the worst of them."""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from fem.arrays import Array, ComplexArray
from links.errors import LinkError
from links.preferred_values import PartsBank, PartsOffered, bank_choice, bank_setting, best_pair, nearest_part
from studies.coupling import Asked, Coupling
from studies.leads import seen_through_lead
from studies.linking import linked_circuits
from studies.rows import Row
from studies.solving import SolvedCoils
from studies.specification import Candidate, Capacitor, CapacitorChoice, CapacitorSpecification
from studies.tuning import base_circuit, base_tuning, tag_circuit, tag_tuning, tuned_exactly

USUAL = CapacitorChoice("pair", "E24", 0.02)
"""What is bought where the study file leaves the capacitor open (common practice, no source)."""

BANK_SWITCHES = 4
BANK_STEPS = range(15, 2, -1)
"""Switched parts of a bank, and into how many steps its range is parted: four parts reach fifteen of the smallest,
preferred values as a rule fewer."""

LEAST_BANK_RANGE = 0.03
"""Share of the wanted capacitance that a bank reaches to either side, or its parts' tolerance where that is more."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Capacitances of base coil and tag as they are in the circuit [F]."""

    base: float
    tag: float


def fitted(candidate: Candidate, coils: SolvedCoils, usual: CapacitorChoice | None = None) -> Candidate:
    """The candidate with every choice of parts made; ``usual`` is chosen from where nothing is said.

    Raises
    ------
    LinkError
        Where no preferred values come to what is wanted.
    """
    coil, tag = candidate.coil, candidate.tag
    base, of_tag = coil.capacitor or usual, tag.capacitor or usual
    if isinstance(base, CapacitorChoice):
        base = chosen(base, base_tuning(candidate, coils).exact)
    if isinstance(of_tag, CapacitorChoice):
        of_tag = chosen(of_tag, tag_tuning(candidate, coils).exact)
    return replace(candidate, coil=replace(coil, capacitor=base), tag=replace(tag, capacitor=of_tag))


def chosen(choice: CapacitorChoice, exact: float) -> CapacitorSpecification:
    """The parts nearest to what tunes a circuit exactly.

    Parameters
    ----------
    choice : CapacitorChoice
        How they are chosen.
    exact : float
        What tunes the circuit [F], its stray capacitance included.

    Notes
    -----
    A bank is set by trial once it is built: its parts' tolerance is then made up for, and what is left is a step.
    """
    wanted, offered = (exact - choice.stray) / choice.factors[0], PartsOffered(choice.series)
    spread = choice.tolerance
    if choice.choose == "one part":
        parts = nearest_part(wanted, offered).parts
    elif choice.choose == "pair":
        parts = best_pair(wanted, offered).parts
    else:
        bank = trim_bank(choice, exact)
        parts, spread = bank_setting(bank, wanted).parts, 0.5 * bank.largest_step / wanted
    return made_of(choice, parts, spread)


def trim_bank(choice: CapacitorChoice, exact: float) -> PartsBank:
    """The bank whose switches reach to either side of what tunes a circuit exactly [F]; arguments as of `chosen`."""
    wanted, reach = (exact - choice.stray) / choice.factors[0], max(LEAST_BANK_RANGE, choice.tolerance)
    return _bank((1.0 - reach) * wanted, (1.0 + reach) * wanted, PartsOffered(choice.series))


def made_of(choice: CapacitorChoice, parts: tuple[float, ...], spread: float) -> CapacitorSpecification:
    """A capacitor of certain ``parts`` [F], each off by ``spread`` [1] at most, as warm as the choice has it."""
    typical, least, greatest = choice.factors
    nominal = sum(parts)
    low, high = nominal * least * (1.0 - spread) + choice.stray, nominal * greatest * (1.0 + spread) + choice.stray
    return CapacitorSpecification(
        nominal * typical + choice.stray, low, high, choice.dielectric, choice.temperature, parts,
        choice.rated_voltage, choice.loss_factor, spread,
    )  # fmt: skip


def in_another_state(own: Capacitor | None, kept: CapacitorSpecification) -> CapacitorSpecification:
    """A capacitor that was fitted in one state, in another: ``own`` is what the study says of it there."""
    if isinstance(own, CapacitorSpecification):
        return own
    return kept if own is None else made_of(own, kept.parts, kept.spread)


def _bank(least: float, greatest: float, offered: PartsOffered) -> PartsBank:
    """The bank of the finest steps that its switched parts reach over a range [F]."""
    for count in BANK_STEPS[:-1]:
        try:
            return bank_choice(least, greatest, (greatest - least) / count, offered, BANK_SWITCHES)
        except LinkError:
            continue
    return bank_choice(least, greatest, (greatest - least) / BANK_STEPS[-1], offered, BANK_SWITCHES)


def corners(candidate: Candidate, coils: SolvedCoils) -> tuple[Fit, ...]:
    """Typical capacitances first, then all combinations of the ends of their ranges; choices have been made."""
    sides = _ranges(candidate, coils)
    typical = Fit(sides[0][0], sides[1][0])
    return tuple(dict.fromkeys((typical, *(Fit(*pair) for pair in product(sides[0][1:], sides[1][1:])))))


def fits_within(candidate: Candidate, coils: SolvedCoils) -> tuple[Fit, ...]:
    """All combinations of typical, least and greatest capacitances and, where it is in a range, of what tunes exactly.

    Margin is least at an end of a range; currents and voltages may be greatest anywhere in it, as a rule at resonance.
    Choices have been made.
    """
    free = tuned_exactly(candidate)
    exact = base_tuning(free, coils).capacitance, tag_tuning(free, coils).capacitance
    sides = (
        (*ends, *((best,) if ends[1] < best < ends[2] else ()))
        for ends, best in zip(_ranges(candidate, coils), exact, strict=True)
    )
    return tuple(dict.fromkeys(Fit(*pair) for pair in product(*sides)))


def _ranges(candidate: Candidate, coils: SolvedCoils) -> tuple[tuple[float, float, float], ...]:
    """Typical, least and greatest capacitance of base coil and tag [F]."""
    sides = []
    for capacitor, exact in (
        (candidate.coil.capacitor, base_tuning(candidate, coils).capacitance),
        (candidate.tag.capacitor, tag_tuning(candidate, coils).capacitance),
    ):
        if isinstance(capacitor, CapacitorSpecification):
            sides.append((capacitor.capacitance, capacitor.least, capacitor.greatest))
        else:
            sides.append((exact, exact, exact))
    return tuple(sides)


def corner_margins(candidate: Candidate, coupling: Coupling, asked: Asked, fits: tuple[Fit, ...]) -> Array:
    """Least margin over some places, the lean the worst way, for each pair of capacitances, shape (n,) [dB]."""
    return np.asarray(margins_with(candidate, coupling, asked.heights, asked.extremes, fits).min(axis=(1, 2)))


def margins_with(
    candidate: Candidate, coupling: Coupling, heights: Array, mutual_inductance: ComplexArray, fits: tuple[Fit, ...]
) -> Array:
    """Margins with each pair of capacitances, shape (n_fit, n_lean, n) [dB].

    Parameters
    ----------
    heights : ndarray, shape (n,)
        [m].
    mutual_inductance : ndarray of complex, shape (n_lean, n)
        Of the coils themselves [H].
    """
    mutual_inductance = seen_through_lead(candidate, coupling.coils.base, mutual_inductance)
    base = base_circuit(candidate, coupling.coils)
    tag = tag_circuit(candidate, coupling.coils, heights)
    each = np.array([(fit.base, fit.tag) for fit in fits]).T[:, :, None, None]
    return linked_circuits(
        candidate,
        replace(base, capacitance=each[0]),
        replace(tag, capacitance=each[1]),
        mutual_inductance,
        stepped=False,
    ).margin


def at_corner(candidate: Candidate, fit: Fit) -> Candidate:
    """The candidate with these very capacitances, wherever its own have a range."""
    coil, tag = candidate.coil, candidate.tag
    if isinstance(coil.capacitor, CapacitorSpecification):
        coil = replace(coil, capacitor=replace(coil.capacitor, capacitance=fit.base))
    if isinstance(tag.capacitor, CapacitorSpecification):
        tag = replace(tag, capacitor=replace(tag.capacitor, capacitance=fit.tag))
    return replace(candidate, coil=coil, tag=tag)


def worst_fit(candidate: Candidate, coupling: Coupling, asked: Asked) -> Candidate:
    """The candidate with the capacitances, anywhere in their ranges' ends, that leave the least margin."""
    fits = corners(candidate, coupling.coils)
    if len(fits) == 1:
        return candidate
    return at_corner(candidate, fits[int(np.argmin(corner_margins(candidate, coupling, asked, fits)))])


def fit_columns(candidate: Candidate, coupling: Coupling, asked: Asked, bought: Candidate | None) -> Row:
    """The margin with both sides tuned exactly, and with parts as ``bought``: those of the study, or the usual ones."""
    coils = coupling.coils
    fits = (*corners(tuned_exactly(candidate), coils), *(() if bought is None else corners(bought, coils)))
    margins = corner_margins(candidate, coupling, asked, fits)
    row: Row = {"margin_tuned_dB": float(margins[0])}
    if bought is None:
        return row | {"margin_as_fitted_dB": None}
    row["margin_as_fitted_dB"] = float(margins[1:].min())
    for start, capacitor in (("", bought.coil.capacitor), ("tag_", bought.tag.capacitor)):
        assert isinstance(capacitor, CapacitorSpecification), "every choice has been made"
        row[f"{start}fitted_capacitance_least_F"] = capacitor.least
        row[f"{start}fitted_capacitance_greatest_F"] = capacitor.greatest
        row[f"{start}tuning_parts"] = " + ".join(f"{part * 1e12:.6g} pF" for part in capacitor.parts)
    return row


def as_bought(candidate: Candidate, coils: SolvedCoils) -> Candidate | None:
    """The candidate with parts as bought; None where nothing is said and the usual parts do not come to it."""
    try:
        return fitted(candidate, coils, USUAL)
    except LinkError:
        return None
