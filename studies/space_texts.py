"""The whole-space check as text and as one flat row."""

from studies.engineering import millimetres, place_text, tilt_text
from studies.hazards import MAGNET_CAUTION
from studies.quantities import quantity_text
from studies.rows import Row
from studies.space_magnets import MagnetEffect
from studies.specification import Correction
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
    return row if check.magnets is None else row | _magnet_row(check.magnets)


def _magnet_row(effect: MagnetEffect) -> Row:
    row: Row = {
        "magnets_inductance_ratio": effect.inductance_ratio,
        "magnets_added_resistance_ohm": effect.added_resistance,
        "magnets_coupling_ratio": effect.correction.coupling,
        "tag_q_without_magnets": effect.quality_factors[0],
        "tag_q_with_magnets": effect.quality_factors[1],
    }
    for number, (along, across) in enumerate(effect.coupling_ratios, start=1):
        row |= {f"place_{number}_coupling_ratio": along, f"place_{number}_coupling_ratio_across": across}
    return row


def check_lines(check: WholeSpaceCheck) -> list[str]:
    """A table of the places, and what its columns mean."""
    rows = [HEADINGS, *(_cells(found) for found in check.places)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEADINGS))]
    table = ["  ".join(f"{cell:>{width}}" for cell, width in zip(row, widths, strict=True)) for row in rows]
    lines = ["Mutual inductance in the whole space, beside the map's", *(f"  {line}" for line in table), ""]
    lines += _notes(check)
    return lines if check.magnets is None else [*lines, "", *_magnet_lines(check.places, check.magnets)]


def _magnet_lines(places: tuple[PlaceCheck, ...], effect: MagnetEffect) -> list[str]:
    """What the magnets do, the correction to paste, and a caution."""
    before, after = effect.quality_factors
    return [
        "Magnets fixed to the tag, as ratios on one mesh with and without them",
        f"  inductance        {effect.inductance_ratio:.5f} times",
        f"  added resistance  {quantity_text(effect.added_resistance, 'resistance')}",
        f"  quality factor    {before:.4g} without, {after:.4g} with, the chip apart",
        *(_coupling_line(found, ratios) for found, ratios in zip(places, effect.coupling_ratios, strict=True)),
        "",
        "For the map, under [tag] of the study file:",
        f"  correction = {correction_text(effect.correction)}",
        "The magnets' steady field, which may push a core towards saturation, is in none of these numbers.",
        f"Caution: {MAGNET_CAUTION}",
    ]


def _coupling_line(found: PlaceCheck, ratios: tuple[float, float]) -> str:
    along, across = ratios
    return (
        f"  k {along:.5f} times at {place_text(found.place)}; {across:.5f} with the tag turned a quarter about its axis"
    )


def correction_text(correction: Correction) -> str:
    """As a study file takes it."""
    resistance = quantity_text(correction.added_resistance, "resistance")
    return (
        f"{{ inductance = {correction.inductance:.5f}, coupling = {correction.coupling:.5f}, "
        f'added_resistance = "{resistance}" }}'
    )


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
