"""Vessels: laboratory glass by standard and size or by its own dimensions, and what a puck finds inside."""

import tomllib
from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import Any, Literal

from geometries.errors import GeometryError

VesselShape = Literal["flat", "round", "conical", "flask"]
SHAPES: tuple[VesselShape, ...] = ("flat", "round", "conical", "flask")

NECK_LENGTH = 1.125
"""Length of a narrow neck over its outer diameter; ISO 1773 has it between 1 and 1.25 [1]."""

_JOINTS = "ISO 383"


@dataclass(frozen=True, slots=True)
class Vessel:
    """A round vessel upright on the axis of its drive; lengths in [m].

    Parameters
    ----------
    name : str
        Name the study file gives it.
    shape : VesselShape
        Bottom flat, or round: a ball with the vessel's diameter. A conical one has a flat bottom and a wall that leans
        inward up to its neck. A flask is a ball with a flat to stand on.
    outer_diameter, height, wall_thickness : float
        Greatest outer diameter, overall height, wall.
    bottom_thickness : float or None
        At the lowest point; None: as thick as the wall.
    neck_diameter : float or None
        Narrowest bore of its neck; None: as wide as it is inside.
    flat : float
        Diameter of the flat outside; of a flask only, whose inside and outside are balls about one centre.
    standing : float
        Height of its lowest point above the plate's top.
    stands : str
        What it stands on, in words.
    """

    name: str
    shape: VesselShape
    outer_diameter: float
    height: float
    wall_thickness: float
    bottom_thickness: float | None = None
    neck_diameter: float | None = None
    flat: float = 0.0
    standing: float = 0.0
    stands: str = "on the plate"

    @property
    def outer_radius(self) -> float:
        """[m]."""
        return 0.5 * self.outer_diameter

    @property
    def inner_radius(self) -> float:
        """Radius inside: of a flat floor, or of a round bottom's ball [m]."""
        return self.outer_radius - self.wall_thickness

    @property
    def cut(self) -> float:
        """What the flat takes from a flask's ball: height of its segment [m]; 0 but for a flask."""
        return self.outer_radius - sqrt(max(self.outer_radius**2 - 0.25 * self.flat**2, 0.0))

    @property
    def ball_height(self) -> float:
        """Height of the centre of a round bottom's or a flask's inside above the lowest point inside [m]."""
        return self.inner_radius if self.shape == "round" else self.outer_radius - self.cut - self.floor_thickness

    @property
    def floor_radius(self) -> float:
        """Radius of the level floor inside [m]; 0 of a round bottom."""
        if self.shape in ("flat", "conical"):
            return self.inner_radius
        return sqrt(max(self.inner_radius**2 - self.ball_height**2, 0.0))

    @property
    def floor_thickness(self) -> float:
        """Glass between the lowest point outside and the lowest inside [m]."""
        return self.wall_thickness if self.bottom_thickness is None else self.bottom_thickness

    @property
    def floor(self) -> float:
        """Height of the lowest point inside above the plate's top [m]."""
        return self.standing + self.floor_thickness

    @property
    def bore(self) -> float:
        """Narrowest diameter on the way in [m]."""
        inside = 2.0 * self.inner_radius
        return inside if self.neck_diameter is None else min(self.neck_diameter, inside)

    @property
    def wall_lean(self) -> float:
        """How far the wall leans inward for its height [1]; 0 but for a conical vessel."""
        if self.shape != "conical" or self.neck_diameter is None:
            return 0.0
        neck = self.neck_diameter + 2.0 * self.wall_thickness
        return 0.5 * (self.outer_diameter - neck) / (self.height - NECK_LENGTH * neck)


@dataclass(frozen=True, slots=True)
class GlassSize:
    """A nominal size of a standard; lengths in [m], None where the standard or our source of it says nothing."""

    shape: VesselShape
    outer_diameter: float
    height: float
    wall_thickness: float | None
    neck_outer_diameter: float | None
    source: str


class UnknownSize(LookupError):  # noqa: N818 - the name is what it says
    """A standard, size or joint that is not in the table; ``known`` are those that are."""

    def __init__(self, what: str, known: tuple[str, ...]) -> None:
        super().__init__(f"{what} is not known here; known are {', '.join(known)}")
        self.known = known

    def __reduce__(self) -> tuple[type, tuple[str, tuple[str, ...]]]:
        return type(self), (str(self.args[0]).partition(" is not known here")[0], self.known)


def standard_names() -> tuple[str, ...]:
    """Standards of vessels, in the table's order."""
    return tuple(name for name in _table() if name != _JOINTS)


def size_names(standard: str) -> tuple[str, ...]:
    """Nominal sizes of a standard, smallest first."""
    return tuple(_standard(standard)["sizes"])


def glass_size(standard: str, size: str) -> GlassSize:
    """Dimensions of a nominal size.

    Parameters
    ----------
    standard : str
        Such as "ISO 3819 low form".
    size : str
        Nominal capacity, such as "250 ml".

    Raises
    ------
    UnknownSize
        With what is known.
    """
    entry = _standard(standard)
    wanted = " ".join(size.split())
    if wanted not in entry["sizes"]:
        raise UnknownSize(f'the size "{size}" of {standard}', size_names(standard))
    diameter, height, wall, neck = (1e-3 * float(length) for length in entry["sizes"][wanted])
    return GlassSize(entry["shape"], diameter, height, wall or None, neck or None, entry["source"])


def joint_names() -> tuple[str, ...]:
    """Sizes of conical ground joints, as "29/32"."""
    return tuple(f"{end}/{length}" for end, lengths in _table()[_JOINTS]["lengths"].items() for length in lengths)


def socket_bore(joint: str) -> float:
    """Narrowest diameter of a conical socket: that of the small end of its ground zone [m].

    Parameters
    ----------
    joint : str
        Size of the joint, such as "29/32": large end and length of the ground zone, rounded, in mm.

    Raises
    ------
    UnknownSize
        With the sizes known.

    References
    ----------
    ISO 383, Laboratory glassware, Interchangeable conical ground joints.
    """
    if joint not in joint_names():
        raise UnknownSize(f'the joint "{joint}"', joint_names())
    end, _, length = joint.partition("/")
    table = _table()[_JOINTS]
    return 1e-3 * (float(table["large_ends"][end]) - float(table["taper"]) * float(length))


def check_vessel(vessel: Vessel, key: str) -> None:
    """Refuse dimensions that make no vessel.

    Raises
    ------
    GeometryError
        Where walls leave no inside, a neck is wider than its vessel, or a ball does not reach its neck.
    """
    if vessel.inner_radius <= 0.0:
        raise GeometryError(f"{key}.wall_thickness", f"walls of {_mm(vessel.wall_thickness)} leave no inside")
    if vessel.floor_thickness >= vessel.height:
        raise GeometryError(f"{key}.bottom_thickness", "the bottom is as thick as the vessel is high")
    if vessel.shape == "flask":
        _check_flat(vessel, key)
    if vessel.neck_diameter is not None and vessel.neck_diameter > 2.0 * vessel.inner_radius:
        inside = _mm(2.0 * vessel.inner_radius)
        raise GeometryError(f"{key}.neck", f"a bore of {_mm(vessel.neck_diameter)} in a vessel {inside} wide inside")
    if vessel.shape in ("round", "flask") and vessel.neck_diameter is not None:
        _check_ball(vessel, vessel.neck_diameter, key)
    if vessel.shape == "conical":
        if vessel.neck_diameter is None:
            raise GeometryError(f"{key}.neck", "a conical vessel leans towards its neck and needs it")
        if vessel.height <= NECK_LENGTH * (vessel.neck_diameter + 2.0 * vessel.wall_thickness):
            raise GeometryError(f"{key}.height", f"{_mm(vessel.height)} leaves no body below a neck of that width")


def _check_ball(vessel: Vessel, bore: float, key: str) -> None:
    """See that a ball reaches up to its neck."""
    ball, neck = vessel.outer_radius, 0.5 * bore + vessel.wall_thickness
    needed = ball - vessel.cut + sqrt(max(ball**2 - neck**2, 0.0))
    if vessel.height < needed:
        raise GeometryError(
            f"{key}.height",
            f"{_mm(vessel.height)} ends below the neck: a ball {_mm(2.0 * ball)} wide meets it {_mm(needed)} up",
        )


def _check_flat(vessel: Vessel, key: str) -> None:
    if not 0.0 < vessel.flat < vessel.outer_diameter:
        wide = _mm(vessel.outer_diameter)
        raise GeometryError(f"{key}.flat", f"a flat of {_mm(vessel.flat)} on a flask {wide} wide")
    if not abs(vessel.ball_height) < vessel.inner_radius:
        least, most = vessel.wall_thickness - vessel.cut, vessel.outer_radius - vessel.cut + vessel.inner_radius
        raise GeometryError(
            f"{key}.bottom_thickness",
            f"{_mm(vessel.floor_thickness)} leaves no level floor inside: more than {_mm(least)}, below {_mm(most)}",
        )


def _mm(length: float) -> str:
    return f"{length * 1e3:.4g} mm"


def _standard(name: str) -> dict[str, Any]:
    if name not in standard_names():
        raise UnknownSize(f'the standard "{name}"', standard_names())
    entry: dict[str, Any] = _table()[name]
    return entry


@cache
def _table() -> dict[str, Any]:
    from importlib.resources import files

    return tomllib.loads(files("geometries").joinpath("data", "vessels.toml").read_text(encoding="utf-8"))
