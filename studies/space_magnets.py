"""What magnets fixed to the tag do to its L, Q and k: ratios on one mesh, with them and without (DESIGN 4.8)."""

from dataclasses import dataclass
from math import pi, sqrt

from fem.air_field import AirField
from fem.given_fields import placed_base_field
from fem.tag_in_space import TagInSpace
from studies.solving import SolvedTag
from studies.specification import Correction, Place

ROLLS = (0.0, 0.5 * pi)
"""Turns of the tag about its own axis [rad]: its x axis in the plane of the offset, and across it."""


@dataclass(frozen=True, slots=True)
class MagnetEffect:
    """Effect of all magnets together.

    Parameters
    ----------
    inductance_ratio : float
        L with them over L without [1].
    added_resistance : float
        In series with the tag's own [Ω].
    quality_factors : (float, float)
        Of the tag without and with them, its chip apart [1].
    coupling_ratios : tuple of (float, float)
        k with them over k without, a pair a place: the tag's x axis in the plane of the offset, and across it [1].
    """

    inductance_ratio: float
    added_resistance: float
    quality_factors: tuple[float, float]
    coupling_ratios: tuple[tuple[float, float], ...]

    @property
    def correction(self) -> Correction:
        """What the map needs to be told; k by the mean over places and turns."""
        ratios = [ratio for pair in self.coupling_ratios for ratio in pair]
        return Correction(self.inductance_ratio, sum(ratios) / len(ratios), self.added_resistance)


def magnet_effect(
    without: TagInSpace, beside: TagInSpace, tag: SolvedTag, frequency: float, base: AirField, places: tuple[Place, ...]
) -> MagnetEffect:
    """Compare a tag solved ``without`` its magnets and with them ``beside``, on the same mesh.

    Parameters
    ----------
    tag : SolvedTag
        For its turns, inductance and resistance.
    base : AirField
        Base field of a space that holds tag and magnets at every place.
    """
    before, after = without.flux_linkage, beside.flux_linkage
    ratio = after.real / before.real
    omega, square = 2.0 * pi * frequency, tag.tag.turns**2
    added = -omega * square * (after.imag - before.imag)
    own = omega * tag.inductance

    def coupling_ratio(place: Place, roll: float) -> float:
        given = placed_base_field(base, place.height, place.offset, place.tilt, roll)
        return abs(beside.mutual_inductance(given) / without.mutual_inductance(given)) / sqrt(ratio)

    return MagnetEffect(
        ratio,
        added,
        (own / tag.resistance, own * ratio / (tag.resistance + added)),
        tuple((coupling_ratio(place, ROLLS[0]), coupling_ratio(place, ROLLS[1])) for place in places),
    )
