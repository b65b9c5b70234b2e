"""The link of a tag whose core magnets bias: what is evaluated, and its margin unbiased, biased and fully saturated."""

from dataclasses import replace

from links.resonance import parallel_tuning_capacitance
from studies.bias import BiasedTags, bias_columns, biased_tags, steady_magnets
from studies.coupling import Asked, Coupling, asked_of, coupling_of
from studies.fitting import Fit, chosen, corner_margins
from studies.rows import Row
from studies.solving import SolvedTag, solved_coils
from studies.specification import Candidate, Capacitor, CapacitorChoice, CapacitorSpecification, TagSpecification
from studies.tuning import base_tuning, tag_tuning


def with_bias(candidate: Candidate) -> tuple[Candidate, BiasedTags | None]:
    """The candidate with its core as its magnets leave it, and the tag in all three states; as it is without magnets.

    The tag keeps the capacitor that tunes it as built: in the field of the magnets fixed to it alone, or, where a
    drive's magnets bias it too, without any of them.

    Raises
    ------
    GeometryError, MeshingError, FieldError, LinkError
        Where the tag cannot be solved or no parts come to what tunes it.
    """
    tags = biased_tags(candidate)
    if tags is None or tags.biased is None or tags.biased_specification is None:
        return candidate, tags
    own_alone = not steady_magnets(candidate)[1]
    tuned_as = tags.biased if own_alone else tags.unbiased
    capacitor = _kept(candidate.tag.capacitor, _exact(tuned_as, candidate.frequency))
    return replace(candidate, tag=replace(tags.biased_specification, capacitor=capacitor)), tags


def _exact(tag: SolvedTag, frequency: float) -> float:
    return float(parallel_tuning_capacitance(tag.inductance, tag.resistance, frequency))


def _kept(capacitor: Capacitor | None, exact: float) -> CapacitorSpecification:
    """A capacitor that no longer moves with the tag's inductance [F]."""
    if isinstance(capacitor, CapacitorChoice):
        return chosen(capacitor, exact)
    return CapacitorSpecification(exact, exact, exact) if capacitor is None else capacitor


def bias_row(given: Candidate, working: Candidate, tags: BiasedTags | None, coupling: Coupling, asked: Asked) -> Row:
    """Columns of the bias, with the margin in each of the three states, one capacitor throughout.

    Parameters
    ----------
    given, working : Candidate
        As the study gives it, its core unbiased; and as evaluated, with the very capacitors it has.
    tags : BiasedTags or None
        None gives no columns.
    coupling : Coupling
        Of ``working``.
    asked : Asked
        Where the margin is looked for, by ``coupling``.
    """
    if tags is None:
        return {}
    row = bias_columns(tags, working.frequency)
    coils = coupling.coils
    fit = Fit(base_tuning(working, coils).capacitance, tag_tuning(working, coils).capacitance)

    def margin(tag: TagSpecification) -> float:
        state = replace(working, tag=replace(tag, capacitor=working.tag.capacitor))
        found = coupling_of(state, solved_coils(state))
        return float(corner_margins(state, found, asked_of(found, asked.places), (fit,))[0])

    row["margin_unbiased_dB"] = margin(given.tag)
    if tags.biased_specification is not None:
        row["margin_biased_dB"] = float(corner_margins(working, coupling, asked, (fit,))[0])
    row["margin_saturated_dB"] = margin(tags.saturated_specification)
    return row
