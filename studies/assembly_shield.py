"""The can round a tag, in the tag's own axes."""

from geometries.tag import ShieldCan
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import ShieldTable


def shield_of(table: ShieldTable | None, half_height: float, temperature: float, notes: Notes) -> ShieldCan | None:
    """A can at its place round a tag.

    Parameters
    ----------
    table : ShieldTable or None
        As the file gives it.
    half_height : float
        Farthest that winding and core reach from the tag's centre [m]; a ``gap`` is counted from there.
    temperature : float
        The tag's [°C].
    notes : Notes
        Takes the assumptions.
    """
    if table is None:
        return None
    key = "tag.shield"
    opening = notes.chosen(table.open, "top", f"{key}.open", "top", "a cup that the tag stands in")
    closed_bottom, closed_top = opening in ("top", "none"), opening in ("bottom", "none")
    wall = table.wall_thickness
    inside = table.height - wall * (closed_bottom + closed_top)
    start = -0.5 * inside
    if closed_bottom != closed_top:
        centred = 0.5 * inside - half_height
        text = quantity_text(centred, "length")
        gap = notes.chosen(table.gap, centred, f"{key}.gap", text, "the tag in the middle of the can's inside")
        start = -half_height - gap if closed_bottom else half_height + gap - inside
    bottom = start - wall * closed_bottom
    material = notes.cold_and_heated(table.material, "copper", f"{key}.material", temperature, "tag.temperature")[1]
    return ShieldCan(
        material,
        0.5 * table.inner_diameter,
        wall,
        bottom,
        bottom + table.height,
        closed_bottom,
        closed_top,
        temperature,
    )
