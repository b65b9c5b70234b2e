"""Bodies that conduct so weakly that a tag may lie inside them: water, salt solutions, culture media."""

from geometries.constants import skin_depth
from geometries.stack import Solid

LARGEST_SHARE = 0.02
"""Share of the field beyond which a liquid's currents are no small correction."""


def liquid_share(solid: Solid, frequency: float) -> float:
    """Estimate of the field of the currents in a body over the field that drives them [1].

    Notes
    -----
    (a/2δ)² with a its radius or its half height, whichever is larger: in a uniform field the middle of a long cylinder
    sees a change of about j(a/δ)²/2, that of a short one less, and a coil's field reaches only part of it.
    """
    radii, heights = [r for r, _ in solid.outline], [z for _, z in solid.outline]
    size = max(max(radii), 0.5 * (max(heights) - min(heights)))
    return (0.5 * size / skin_depth(frequency, solid.conductivity)) ** 2


def is_liquid(solid: Solid, frequency: float) -> bool:
    """Whether a body conducts, but so weakly that the field hardly notices."""
    if solid.conductivity == 0.0 or solid.material.magnetic:
        return False
    return liquid_share(solid, frequency) <= LARGEST_SHARE


def largest_conductivity(solid: Solid, frequency: float) -> float:
    """Conductivity up to which a body of this size counts as such a liquid [S/m]."""
    return solid.conductivity * LARGEST_SHARE / liquid_share(solid, frequency)
