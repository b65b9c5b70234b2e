"""The station beside this one."""

from geometries.stack import Stack
from studies.assembly_coil import probable_turns, winding_section
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import NeighbourTable
from studies.specification import CoilSpecification, Neighbour


def neighbour_of(table: NeighbourTable, coil: CoilSpecification, stack: Stack, notes: Notes) -> Neighbour:
    """The neighbour, refused where it would stand in this station's coil."""
    diameter = 2.0 * winding_section(coil, stack, probable_turns(coil)).outer_radius
    if table.spacing <= diameter:
        size, given = (quantity_text(length, "length") for length in (diameter, table.spacing))
        notes.impossible("neighbour.spacing", f"{given} given; the base coil is {size} across", f"more than {size}")
    return Neighbour(table.spacing, table.level)
