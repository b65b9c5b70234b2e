"""The map of one design as a table: a line a place, units in the headers."""

import csv
from pathlib import Path

import numpy as np

from studies.one_state import MapValues
from studies.specification import MapGrid
from studies.tables import MAP_VARIABLES

PLACE_COLUMNS = ("height_m", "offset_m", "tilt_rad")


def write_map_csv(path: Path, grid: MapGrid, values: MapValues) -> None:
    """Write a map, floats in full precision; heights go slowest and tilts fastest.

    Parameters
    ----------
    path : Path
        Written to as it is.
    grid : MapGrid
        Places of the map.
    values : MapValues
        Named as in ``maps.nc``, with the unit behind; a margin without any coupling is ``-inf``.
    """
    shape = (len(grid.heights), len(grid.offsets), len(grid.tilts))
    places = np.meshgrid(grid.heights, grid.offsets, grid.tilts, indexing="ij")
    columns = [one.ravel() for one in places] + [_values(values, name, shape) for name in MAP_VARIABLES]
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow([*PLACE_COLUMNS, *(f"{name}_{unit}" for name, (unit, _) in MAP_VARIABLES.items())])
        writer.writerows(zip(*(column.tolist() for column in columns), strict=True))


def _values(values: MapValues, name: str, shape: tuple[int, ...]) -> np.ndarray:
    """A column; of a complex quantity the part that the end of its name says."""
    stem, _, part = name.rpartition("_")
    found = getattr(values, stem if part in ("re", "im") else name)
    found = found.real if part == "re" else found.imag if part == "im" else found
    return np.broadcast_to(found, shape).ravel()
