"""Coils, tags and surroundings that several tests share; all dimensions are invented."""

from dataclasses import replace

from fem.near_metal import AxisProblem
from geometries.materials import Material
from geometries.section import WindingSection
from geometries.stack import Layer, Solid, Stack
from geometries.tag import DrumCore, RodCore, Tag

FREQUENCY = 134.2e3
COIL = WindingSection(0.0205, 0.0235, -0.008, -0.005)

FERRITE = Material("ferrite", relative_permeability=900.0)
LOSSY_FERRITE = Material("lossy ferrite", relative_permeability=900.0, relative_permeability_loss=9.0)
ALUMINIUM = Material("aluminium", resistivity_20=2.8e-8)
NICKEL_CHROMIUM = Material("nickel-chromium", resistivity_20=1.09e-6)

AIR_TAG = Tag(WindingSection(0.0012, 0.0026, -0.001, 0.001), 300, None)
DRUM = DrumCore(FERRITE, 0.003, 0.004, 0.008, 0.001)
DRUM_TAG = Tag(WindingSection(0.0018, 0.0035, -0.0018, 0.0018), 300, DRUM)
ROD_TAG = Tag(WindingSection(0.0012, 0.0022, -0.003, 0.003), 300, RodCore(FERRITE, 0.002, 0.012))


def lossy(tag: Tag) -> Tag:
    """The same tag with a core that loses power."""
    assert tag.core is not None
    return replace(tag, core=replace(tag.core, material=LOSSY_FERRITE))


def sheet_stack(conductance: float, height: float, outer_radius: float, thickness: float = 2e-5) -> Stack:
    """A closed foil of the given sheet conductance σt [S] with its middle at ``height`` [m]."""
    material = Material("foil", resistivity_20=thickness / conductance)
    return Stack((Layer("foil", "foil", material, height + 0.5 * thickness, thickness, outer_radius),))


def ribbon_stack(height: float, outer_radius: float, thickness: float = 2e-5) -> Stack:
    """A meander of nickel-chromium ribbon, 2.5 mm wide at a pitch of 4 mm."""
    top = height + 0.5 * thickness
    return Stack(
        (Layer("heater", "meander", NICKEL_CHROMIUM, top, thickness, outer_radius, ribbon_width=2.5e-3, pitch=4e-3),)
    )


def plate_stack(material: Material, top: float, thickness: float, outer_radius: float) -> Stack:
    """A round plate, meshed as a body."""
    outline = ((0.0, top - thickness), (outer_radius, top - thickness), (outer_radius, top), (0.0, top))
    return Stack((), (Solid("plate", material, outline),))


def axis_problem(stack: Stack, tag: Tag, height: float, coil: WindingSection = COIL) -> AxisProblem:
    """Coil, surroundings and tag on one axis."""
    return AxisProblem(stack, coil, tag, FREQUENCY, 1e-4, height, height)
