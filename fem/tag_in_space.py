"""A tag in the whole space, solved once: its flux linkage, and M in any base field at any place."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import ComplexArray
from fem.closed_forms import winding_self_inductance
from fem.edge_elements import EdgeElements
from fem.given_fields import air_linkage, winding_field
from fem.model import Model
from fem.whole_space import GivenField, Sampled, WholeSpace
from geometries.section import WindingSection


@dataclass(frozen=True, slots=True, eq=False)
class TagInSpace:
    """One ampere in one turn of a tag's winding, and how the bodies about it answer.

    Parameters
    ----------
    section : WindingSection
        Of the winding, about the z axis.
    space : WholeSpace or None
        Of the bodies; None where there are none.
    own : Sampled
        The winding's field where the bodies are.
    answer : ndarray
        What they add to it.

    Notes
    -----
    The matrix is symmetric, so that this one solve gives the M of every place: exactly the number that a solve with
    the base field of that place as its source would give.
    """

    section: WindingSection
    space: WholeSpace | None
    own: Sampled
    answer: ComplexArray

    @property
    def flux_linkage(self) -> complex:
        """Per turn² [H]; R = −ω Im."""
        found = complex(winding_self_inductance(self.section, 1.0))
        return found if self.space is None else found + self.space.added_linkage(self.answer, self.own, self.own)

    def mutual_inductance(self, given: GivenField) -> complex:
        """Of one turn with the coil of a given field, per ampere in that coil [H]."""
        found = air_linkage(self.section, given)
        if self.space is None:
            return found
        return found + self.space.added_linkage(self.answer, self.own, self.space.sampled(given))


def tag_in_space(section: WindingSection, elements: EdgeElements | None, model: Model) -> TagInSpace:
    """Solve for the bodies of ``model`` on the mesh; None where there is nothing about the winding.

    Raises
    ------
    FieldError
        Where the iteration does not converge.
    """
    if elements is None:
        return TagInSpace(section, None, (), np.zeros(0, dtype=complex))
    space = WholeSpace(elements, model)
    own = space.sampled(winding_field(section))
    return TagInSpace(section, space, own, space.solve(own))
