"""The whole-space check as text and as one flat row."""

from studies.engineering import millimetres, tilt_text
from studies.rows import Row
from studies.whole_space import PlaceCheck, WholeSpaceCheck

HEADINGS = ("height", "offset", "tilt", "map", "whole space", "raw", "divided")


def check_row(design: str, check: WholeSpaceCheck) -> Row:
    """One flat object: a group of names for each place, numbered from 1."""
    row: Row = {"design": design, "whole_space_edges": check.edges, "whole_space_time_s": check.seconds}
    for number, found in enumerate(check.places, start=1):
        values = {
            "height_m": found.place.height,
            "offset_m": found.place.offset,
            "tilt_rad": found.place.tilt,
            "map_mutual_inductance_re_H": found.mapped.real,
            "map_mutual_inductance_im_H": found.mapped.imag,
            "whole_space_mutual_inductance_re_H": found.whole.real,
            "whole_space_mutual_inductance_im_H": found.whole.imag,
            "axis_rel_difference": abs(found.axis_ratio) - 1.0,
            "raw_rel_difference": found.raw,
            "divided_rel_difference": found.divided,
        }
        row |= {f"place_{number}_{name}": value for name, value in values.items()}
    return row


def check_lines(check: WholeSpaceCheck) -> list[str]:
    """A table of the places, and what its columns mean."""
    rows = [HEADINGS, *(_cells(found) for found in check.places)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    table = ["  ".join(f"{cell:>{width}}" for cell, width in zip(row, widths, strict=True)) for row in rows]
    return [
        "Mutual inductance in the whole space, beside the map's",
        *(f"  {line}" for line in table),
        "",
        *_notes(check),
    ]


def _cells(found: PlaceCheck) -> tuple[str, ...]:
    place = found.place
    whole, mapped = (f"{abs(value) * 1e9:.6g} nH" for value in (found.whole, found.mapped))
    differences = (f"{100.0 * found.raw:+.3f} %", f"{100.0 * found.divided:+.4f} %")
    return millimetres(place.height), millimetres(place.offset), tilt_text(place.tilt), mapped, whole, *differences


def _notes(check: WholeSpaceCheck) -> list[str]:
    if not check.edges:
        return [
            "The tag has no core: nothing needs elements, and its M is the base field's flux through its winding.",
        ]
    return [
        f"{check.edges} edges, {check.seconds:.0f} s, the base field's own solve included.",
        "raw: whole space over map, less one. divided: the same over the ratio of the tag upright on the axis at that",
        "height, on the same mesh, which takes out what the mesh itself falls short by. Both leave out the image that",
        "the core throws in metal below, which the map's M in every other output contains as a factor of the height.",
    ]
