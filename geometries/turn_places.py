"""Where each turn of a winding laid in layers comes to lie."""

import numpy as np
from numpy.typing import NDArray

from geometries.section import WindingSection
from geometries.winding_plan import WindingPlan


def turn_places(
    plan: WindingPlan, section: WindingSection, overall_diameter: float, layer_distance: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Radius and height of the middle of every turn [m], the first turn first.

    Parameters
    ----------
    plan : WindingPlan
        Its layers.
    section : WindingSection
        The first layer lies on its inner radius; a layer's turns share its length evenly.
    overall_diameter : float
        Diameter over the covering [m].
    layer_distance : float
        From layer to layer [m].

    Notes
    -----
    To and fro: the layers start in turn at the bottom and at the top, which matters to the last one alone, and little.
    """
    turns = (plan.layers - 1) * plan.layer_turns + plan.last_layer_turns
    layer, along = np.divmod(np.arange(turns), plan.layer_turns)
    share = (along + 0.5) / plan.layer_turns
    share = np.where(layer % 2 == 0, share, 1.0 - share)
    radii = section.inner_radius + 0.5 * overall_diameter + layer_distance * layer
    return radii, section.bottom + share * section.winding_length
