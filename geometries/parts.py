"""Constructions that a stock inductor known only by its data sheet might have.

A data sheet gives inductance, resistance and outer size, but not how the drum inside is proportioned. So the part is
modelled several times: once at nominal proportions, then at corners of the range they are found in. Turns follow from
the inductance after a field solve of each; what then differs between them is the stated ± on M and k.

All proportions here are common practice, no source.
"""

from dataclasses import dataclass, replace

from geometries.errors import GeometryError
from geometries.part import TagPart
from geometries.section import WindingSection
from geometries.tag import DrumCore, Tag


@dataclass(frozen=True, slots=True)
class Proportions:
    """Shape of a wound drum core, apart from its size.

    Parameters
    ----------
    post : float
        Diameter of the centre post, over the flanges' [1].
    flange : float
        Thickness of one flange, over the overall height [1].
    build : float
        Radial build of the winding, over the depth of the window between post and flange edge [1].
    """

    post: float
    flange: float
    build: float


NOMINAL = Proportions(post=0.45, flange=0.20, build=0.80)
"""Middle of the range (common practice, no source)."""

SLENDER = Proportions(post=0.35, flange=0.13, build=0.55)
STOUT = Proportions(post=0.60, flange=0.27, build=0.95)
"""Ends of the range of each proportion (common practice, no source)."""

WEAKEST = Proportions(SLENDER.post, STOUT.flange, SLENDER.build)
STRONGEST = Proportions(STOUT.post, SLENDER.flange, STOUT.build)
CORNERS = (
    WEAKEST,
    STRONGEST,
    Proportions(SLENDER.post, SLENDER.flange, STOUT.build),
    Proportions(STOUT.post, STOUT.flange, SLENDER.build),
)
"""Corners of the range, those of weakest and strongest coupling first.

What couples a part to a distant coil at a given inductance is its dipole moment over √L. Field solves at all eight
corners (static, μr 700, parts of 4 × 4, 6 × 5 and 8 × 6 mm) put it 9 to 11 % below the nominal one at the first
corner and 7 to 9 % above at the second, every other corner between; each proportion moves it one way only.
"""


def part_constructions(part: TagPart) -> tuple[Tag, ...]:
    """Tags that a stock part might be inside, the nominal one first.

    Parameters
    ----------
    part : TagPart
        As its data sheet gives it.

    Returns
    -------
    tuple of Tag
        Drum cores that fill the part's size, one turn each (`scaled_tag` gives them the turns that its inductance
        asks for), with its DC resistance as series resistance.

    Raises
    ------
    GeometryError
        Where the data sheet's values are impossible.

    Notes
    -----
    The core is taken to fill the outer size; sleeve, coating and terminals are neglected. The winding lies on the
    post and fills the window's height.
    """
    _require_possible(part)
    tags = (_drum_tag(part, proportions) for proportions in (NOMINAL, *CORNERS))
    return tuple(replace(tag, shield=part.shield) for tag in tags)


def scaled_tag(tag: Tag, turns: float) -> Tag:
    """The same construction with other turns; a series resistance, being given, is kept.

    Parameters
    ----------
    tag : Tag
        Whose turns are to change.
    turns : float
        Need not be whole.

    Returns
    -------
    Tag

    Raises
    ------
    GeometryError
        For no turns.
    """
    if not turns > 0.0:
        raise GeometryError("tag.turns", f"{turns:g} turns were given; there must be more than 0")
    return replace(tag, turns=turns)


def _drum_tag(part: TagPart, proportions: Proportions) -> Tag:
    flange_thickness = proportions.flange * part.height
    post_height = part.height - 2.0 * flange_thickness
    post = proportions.post * part.diameter
    inner, window = 0.5 * post, 0.5 * (part.diameter - post)
    return Tag(
        section=WindingSection(inner, inner + proportions.build * window, -0.5 * post_height, 0.5 * post_height),
        turns=1.0,
        core=DrumCore(part.material, post, post_height, part.diameter, flange_thickness),
        series_resistance=part.dc_resistance,
    )


def _require_possible(part: TagPart) -> None:
    sizes = (("inductance", part.inductance, "H"), ("diameter", part.diameter, "m"), ("height", part.height, "m"))
    for name, value, unit in sizes:
        if not value > 0.0:
            raise GeometryError(f"tag.part.{name}", f"{value:g} {unit} was given; it must be above 0")
    if not part.dc_resistance >= 0.0:
        raise GeometryError("tag.part.dc_resistance", f"{part.dc_resistance:g} ohm was given; it must not be below 0")
