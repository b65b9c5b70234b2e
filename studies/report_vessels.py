"""The report's table of vessels: where the tag is in each, whether it reads there and is lost at the wall."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees

from geometries.pucks import Puck
from studies.report_numbers import NONE
from studies.rows import AnyRow
from studies.specification import Candidate

HELD_AND_LOST = "The tag reads while it is held, and is lost at the wall where there is one,"


@dataclass(frozen=True, slots=True)
class VesselRow:
    """A vessel: its name and what it is, whether it passes, the cells of the table, and what is to be said of it."""

    name: str
    about: str
    passed: bool
    cells: tuple[str, ...]
    why: str
    remark: str


@dataclass(frozen=True, slots=True)
class VesselsShown:
    """The finding in a sentence, the puck in words, and a row for each vessel."""

    finding: str
    puck: str
    rows: tuple[VesselRow, ...]


def vessels_shown(candidate: Candidate, rows: Sequence[AnyRow]) -> VesselsShown | None:
    """The table; None where no puck is in any vessel."""
    if candidate.puck is None or not rows:
        return None
    return VesselsShown(_finding(rows), _puck_words(candidate.puck), tuple(map(_row, rows)))


def _finding(rows: Sequence[AnyRow]) -> str:
    good = [str(row["vessel"]) for row in rows if row["vessel_verdict"] == "pass"]
    bad = [row for row in rows if row["vessel_verdict"] != "pass"]
    if not bad:
        every = "the vessel" if len(rows) == 1 else f"all {len(rows)} vessels"
        return f"{HELD_AND_LOST} in {every}."
    first = f"{HELD_AND_LOST} in {len(good)} of {len(rows)} vessels{': ' if good else ''}{', '.join(good)}."
    return f"{first} Not in {bad[0]['vessel']}: {bad[0]['why']}."


def _puck_words(puck: Puck) -> str:
    size = f"{_mm(puck.width)} × {_mm(puck.thickness)}"
    found = f"The puck is a {puck.shape} of {size}, the tag's centre {_mm(puck.tag_height)} above its underside"
    found += f" and {_mm(puck.tag_offset)} from its middle" if puck.tag_offset else ""
    off = f", its drive {_mm(puck.spindle_offset)} off the coil's axis" if puck.spindle_offset else ""
    return f"{found}{off}."


def _row(row: AnyRow) -> VesselRow:
    offset = NONE
    if isinstance(row.get("least_offset_m"), float):
        least, most = _millimetres(row, "least_offset_m"), _millimetres(row, "greatest_offset_m")
        offset = most if least == most else f"{least.removesuffix(' mm')} to {most}"
    tilt, slides = row.get("tag_tilt_rad"), row.get("held_margin_dB") is not None and row.get("wall_margin_dB") is None
    return VesselRow(
        str(row["vessel"]),
        _sentence(f"{row['vessel_shape']}, {_millimetres(row, 'vessel_outer_diameter_m')} wide, {row['stands']}"),
        row["vessel_verdict"] == "pass",
        (
            _millimetres(row, "tag_height_m"),
            f"{degrees(tilt):.3g}°" if isinstance(tilt, float) else NONE,
            offset,
            _decibels(row, "held_margin_dB"),
            _out_to(row),
            "slides back" if slides else _decibels(row, "wall_margin_dB"),
        ),
        _sentence(str(row["why"])),
        _sentence(str(row["remark"])),
    )


def _out_to(row: AnyRow) -> str:
    found, looked = row.get("read_out_to_m"), row.get("looked_out_to_m")
    if not isinstance(found, float) or not isinstance(looked, float):
        return NONE
    return _mm(found) if found < looked else f"≥ {_mm(found)}"


def _millimetres(row: AnyRow, name: str) -> str:
    value = row.get(name)
    return _mm(value) if isinstance(value, float) else NONE


def _decibels(row: AnyRow, name: str) -> str:
    value = row.get(name)
    return f"{value:.1f} dB".replace("-", "−") if isinstance(value, float) else NONE


def _mm(length: float) -> str:
    return f"{length * 1e3:.3g} mm"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
