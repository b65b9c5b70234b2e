"""Whether a design can be built as described: every fault at once, each under the key path it was typed at."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from geometries.errors import GeometryError
from geometries.overlap import TOUCHING, outline_fault, outlines_overlap, shared_area
from geometries.packing import check_turns
from geometries.section import WindingSection
from geometries.stack import RIBBON_KINDS, Layer, Solid, Stack
from geometries.tag import DrumCore, Outline, RodCore, ShieldCan, Tag
from geometries.wire import Wire

ABSOLUTE_ZERO = -273.15

Faults = Iterator[GeometryError]
Body = tuple[str, str, Outline]
"""Key path to blame, words for the designer, and outline."""


def design_faults(stack: Stack, section: WindingSection, wire: Wire, turns: int | None) -> tuple[GeometryError, ...]:
    """All that is wrong with a base coil in its stack.

    Parameters
    ----------
    stack : Stack
        Layers and solids in their places.
    section : WindingSection
        Of the base coil, in its place.
    wire : Wire
        It is wound with.
    turns : int or None
        None where they still have to follow from an inductance; the packing is then not looked at.

    Returns
    -------
    tuple of GeometryError
        Empty where the design can be built. Bodies may touch; a gap layer may be occupied.
    """
    faults = [
        *(fault for layer in stack.layers for fault in _layer_faults(layer)),
        *(fault for solid in stack.solids for fault in _solid_faults(solid)),
        *_coil_faults(section),
        *_wire_faults(wire, "base_coil.wire"),
    ]
    faults += _overlap_faults(stack, section)
    faults += _winding_faults(section, wire, turns, "base_coil")
    return tuple(faults)


def tag_faults(tag: Tag) -> tuple[GeometryError, ...]:
    """All that is wrong with a tag's construction.

    Parameters
    ----------
    tag : Tag
        In its own axes.

    Returns
    -------
    tuple of GeometryError
        Empty where the tag can be built.
    """
    section = tag.section
    faults = [*_core_faults(tag.core), *_tag_section_faults(section)]
    if not faults:
        faults += _window_faults(tag.core, section)
    if tag.shield is not None:
        faults += _shield_faults(tag.shield, tag)
    if not tag.turns > 0.0:
        faults.append(GeometryError("tag.turns", f"{tag.turns:g} turns were given; there must be more than 0"))
    if tag.series_resistance is not None and not tag.series_resistance >= 0.0:
        faults.append(
            GeometryError("tag.series_resistance", f"{tag.series_resistance:g} ohm was given; it must not be below 0")
        )
    if tag.wire is not None:
        faults += _wire_faults(tag.wire, "tag.wire")
        faults += _winding_faults(section, tag.wire, tag.turns, "tag")
    return tuple(faults)


# -- the stack --------------------------------------------------------------------------------------------------


def _layer_faults(layer: Layer) -> Faults:
    key = f"layers.{layer.name}"
    least = 0.0 if layer.kind == "gap" else TOUCHING  # a swept gap may start from nothing
    if not layer.thickness >= least:
        yield GeometryError(f"{key}.thickness", f"{_mm(layer.thickness)} was given; a layer's must be above 0")
    if layer.inner_radius < 0.0:
        yield GeometryError(f"{key}.inner_diameter", f"{_mm(2 * layer.inner_radius)} was given; it must not be below 0")
    if not layer.outer_radius - layer.inner_radius > TOUCHING:
        yield GeometryError(
            f"{key}.outer_diameter",
            f"{_mm(2 * layer.outer_radius)} was given; it must be above the inner diameter of "
            f"{_mm(2 * layer.inner_radius)}",
        )
    if layer.material is None and layer.kind != "gap":
        yield GeometryError(f"{key}.material", f"a layer of kind {layer.kind!r} needs a material")
    yield from _temperature_faults(layer, key)
    if layer.kind in RIBBON_KINDS:
        yield from _ribbon_faults(layer, key)


def _ribbon_faults(layer: Layer, key: str) -> Faults:
    width, pitch = layer.ribbon_width, layer.pitch
    for name, value in (("ribbon_width", width), ("pitch", pitch)):
        if value is None:
            yield GeometryError(f"{key}.{name}", f"a layer of kind {layer.kind!r} needs it")
        elif not value > 0.0:
            yield GeometryError(f"{key}.{name}", f"{_mm(value)} was given; it must be above 0")
    if width is not None and pitch is not None and width - pitch > TOUCHING:
        yield GeometryError(
            f"{key}.pitch", f"{_mm(pitch)} was given; it must be at least the ribbon's width of {_mm(width)}"
        )
    extent = layer.outer_radius - layer.inner_radius
    if width is not None and extent > TOUCHING and width - extent > TOUCHING:
        yield GeometryError(
            f"{key}.ribbon_width",
            f"{_mm(width)} was given; it must not be above the layer's extent from inner to outer radius, "
            f"{_mm(layer.outer_radius - layer.inner_radius)}",
        )


def _temperature_faults(body: Layer | Solid | Wire, key: str) -> Faults:
    if not body.temperature >= ABSOLUTE_ZERO:
        yield GeometryError(
            f"{key}.temperature", f"{body.temperature:g} degC was given; it must not be below {ABSOLUTE_ZERO} degC"
        )
        return
    try:
        conducts = body.conductivity > 0.0
    except GeometryError as fault:
        yield GeometryError(f"{key}.temperature", str(fault))
        return
    if isinstance(body, Layer) and body.kind in (*RIBBON_KINDS, "foil") and body.material is not None and not conducts:
        yield GeometryError(
            f"{key}.material", f"{body.material.name!r} does not conduct; a layer of kind {body.kind!r} must"
        )


def _solid_faults(solid: Solid) -> Faults:
    key = f"solids.{solid.name}"
    fault = outline_fault(solid.outline)
    if fault is not None:
        yield GeometryError(f"{key}.outline", fault)
    yield from _temperature_faults(solid, key)


def _solid_key(solid: Solid) -> str:
    return f"solids.{solid.name}.outline" if solid.shape == "outline" else f"solids.{solid.name}.shape"


def _overlap_faults(stack: Stack, section: WindingSection) -> Faults:
    layers = [_layer_body(layer) for layer in stack.layers if layer.kind != "gap"]
    solids = [(_solid_key(solid), f"solid {solid.name!r}", solid.outline) for solid in stack.solids]
    bodies = [body for body in (*layers, *solids) if outline_fault(body[2]) is None]
    for first, second in combinations(bodies, 2):
        if outlines_overlap(first[2], second[2]):
            yield GeometryError(second[0], f"it overlaps {first[1]} by {_shared(first[2], second[2])}")
    if outline_fault(section.corners) is None:
        for body in bodies:
            if outlines_overlap(body[2], section.corners):
                yield _coil_overlap(body, section)


def _coil_overlap(body: Body, section: WindingSection) -> GeometryError:
    key, words, outline = body
    shared = _shared(outline, section.corners)
    if key.startswith("layers."):
        top, bottom = max(z for _, z in outline), min(z for _, z in outline)
        return GeometryError(
            "base_coil.under",
            f"the winding, from height {_mm(section.top)} down to {_mm(section.bottom)}, overlaps {words}, from "
            f"{_mm(top)} down to {_mm(bottom)}, by {shared}; lay it under that layer or leave a gap for it",
        )
    return GeometryError(
        key,
        f"it overlaps the base coil's winding (radius {_mm(section.inner_radius)} to {_mm(section.outer_radius)}, "
        f"height {_mm(section.bottom)} to {_mm(section.top)}) by {shared}",
    )


def _layer_body(layer: Layer) -> Body:
    return f"layers.{layer.name}.thickness", f"layer {layer.name!r}", layer.outline


# -- windings ---------------------------------------------------------------------------------------------------


def _coil_faults(section: WindingSection) -> Faults:
    build, length = section.radial_build, section.winding_length
    if not section.mean_radius > 0.0:
        yield GeometryError("base_coil.mean_diameter", f"{_mm(2 * section.mean_radius)} was given; it must be above 0")
    elif not section.inner_radius > TOUCHING:
        yield GeometryError(
            "base_coil.radial_build",
            f"{_mm(build)} leaves no hole at a mean diameter of {_mm(2 * section.mean_radius)}; "
            f"it must be below {_mm(2 * section.mean_radius)}",
        )
    if not build > TOUCHING:
        yield GeometryError("base_coil.radial_build", f"{_mm(build)} was given; it must be above 0")
    if not length > TOUCHING:
        yield GeometryError("base_coil.winding_length", f"{_mm(length)} was given; it must be above 0")


def _wire_faults(wire: Wire, key: str) -> Faults:
    if not wire.diameter > 0.0:
        yield GeometryError(f"{key}.diameter", f"{_mm(wire.diameter)} was given; it must be above 0")
    if not wire.overall_diameter - wire.diameter >= -TOUCHING:
        yield GeometryError(
            f"{key}.overall_diameter",
            f"{_mm(wire.overall_diameter)} was given; with its covering the wire cannot be thinner than its bare "
            f"diameter of {_mm(wire.diameter)}",
        )
    if wire.conductor.resistivity_20 is None:
        yield GeometryError(f"{key}.conductor", f"{wire.conductor.name!r} does not conduct; a wire must")
    yield from _temperature_faults(wire, key)


def _winding_faults(section: WindingSection, wire: Wire, turns: float | None, key: str) -> Faults:
    """Wire against section: a wire too thick is one fault, not two."""
    if turns is not None and not turns > 0.0:
        if key == "base_coil":
            yield GeometryError(f"{key}.turns", f"{turns:g} turns were given; there must be at least 1")
        return
    narrow = min(section.radial_build, section.winding_length)
    if not narrow > TOUCHING or not wire.overall_diameter > 0.0:
        return
    if wire.overall_diameter - narrow > TOUCHING:
        yield GeometryError(
            f"{key}.wire.overall_diameter",
            f"{_mm(wire.overall_diameter)} was given; it must not be above the winding's narrow side of {_mm(narrow)}",
        )
    elif turns is not None:
        try:
            check_turns(section, turns, wire, f"{key}.turns")
        except GeometryError as fault:
            yield fault


# -- the tag ----------------------------------------------------------------------------------------------------


def _core_faults(core: DrumCore | RodCore | None) -> Faults:
    names: Sequence[str] = ()
    if isinstance(core, DrumCore):
        names = ("centre_post_diameter", "centre_post_height", "flange_diameter", "flange_thickness")
    sizes = [(f"tag.{name}", getattr(core, name)) for name in names]
    if isinstance(core, RodCore):
        sizes = [("tag.rod_diameter", core.diameter), ("tag.rod_length", core.length)]
    for key, size in sizes:
        if not size > TOUCHING:
            yield GeometryError(key, f"{_mm(size)} was given; it must be above 0")
    if isinstance(core, DrumCore) and core.flange_diameter - core.centre_post_diameter <= TOUCHING:
        yield GeometryError(
            "tag.flange_diameter",
            f"{_mm(core.flange_diameter)} was given; it must be above the centre post's diameter of "
            f"{_mm(core.centre_post_diameter)}",
        )


def _tag_section_faults(section: WindingSection) -> Faults:
    if section.inner_radius < 0.0:
        yield GeometryError(
            "tag.winding_inner_diameter", f"{_mm(2 * section.inner_radius)} was given; it must not be below 0"
        )
    if not section.radial_build > TOUCHING:
        yield GeometryError(
            "tag.winding_outer_diameter",
            f"{_mm(2 * section.outer_radius)} was given; it must be above the winding's inner diameter of "
            f"{_mm(2 * section.inner_radius)}",
        )
    if not section.winding_length > TOUCHING:
        yield GeometryError("tag.winding_length", f"{_mm(section.winding_length)} was given; it must be above 0")
    elif abs(section.mid_height) > TOUCHING:
        yield GeometryError(
            "tag.winding_length",
            f"the winding's middle lies at {_mm(section.mid_height)}; a tag's coil is centred on 0",
        )


def _window_faults(core: DrumCore | RodCore | None, section: WindingSection) -> Faults:
    """Winding against core: outside the post or rod, and between a drum's flanges."""
    if core is None:
        return
    name, post = ("centre post", core.centre_post_diameter) if isinstance(core, DrumCore) else ("rod", core.diameter)
    if post - 2.0 * section.inner_radius > 2.0 * TOUCHING:
        yield GeometryError(
            "tag.winding_inner_diameter",
            f"{_mm(2 * section.inner_radius)} was given; the winding must lie round the {name} of {_mm(post)}",
        )
    if not isinstance(core, DrumCore):
        return
    if 2.0 * section.outer_radius - core.flange_diameter > 2.0 * TOUCHING:
        yield GeometryError(
            "tag.winding_outer_diameter",
            f"{_mm(2 * section.outer_radius)} was given; it must not be above the flanges' {_mm(core.flange_diameter)}",
        )
    if section.winding_length - core.centre_post_height > 2.0 * TOUCHING:
        yield GeometryError(
            "tag.winding_length",
            f"{_mm(section.winding_length)} was given; it must not be above the centre post's height of "
            f"{_mm(core.centre_post_height)}, the room between the flanges",
        )


def _shield_faults(shield: ShieldCan, tag: Tag) -> Faults:
    """A can with an inside, of something that acts, clear of winding and core."""
    sizes = (("inner_diameter", 2.0 * shield.inner_radius), ("wall_thickness", shield.wall_thickness))
    small = [(name, size) for name, size in sizes if not size > TOUCHING]
    for name, size in small:
        yield GeometryError(f"tag.shield.{name}", f"{_mm(size)} was given; it must be above 0")
    ends = shield.wall_thickness * (shield.closed_bottom + shield.closed_top)
    if not shield.top - shield.bottom - ends > TOUCHING:
        yield GeometryError(
            "tag.shield.height",
            f"{_mm(shield.top - shield.bottom)} was given; it must be above {_mm(ends)}, what the closed ends take",
        )
    elif not small:
        yield from _shield_overlaps(shield, tag)
    try:
        conducts = shield.conductivity > 0.0
    except GeometryError as fault:
        yield GeometryError("tag.shield.material", str(fault))
        return
    curie = shield.material.curie_temperature
    lost = curie is not None and shield.temperature >= curie  # magnetic when cooler: no fault of the can
    if not conducts and not shield.material.magnetic and not lost:
        yield GeometryError(
            "tag.shield.material",
            f"{shield.material.name!r} neither conducts nor is magnetic, so as a shield it does nothing; give a "
            "conductivity above 0 or a relative_permeability other than 1",
        )


def _shield_overlaps(shield: ShieldCan, tag: Tag) -> Faults:
    parts = [("the winding", tag.section.corners)]
    if tag.core is not None:
        parts.append(("the core", tag.core.outline))
    for words, outline in parts:
        if outline_fault(outline) is None and outlines_overlap(outline, shield.outline):
            inside = f"{_mm(2.0 * shield.inner_radius)} across and from {_mm(_floor(shield))} to {_mm(_lid(shield))}"
            shared = _shared(outline, shield.outline)
            yield GeometryError(
                "tag.shield", f"it overlaps {words} by {shared}; its inside, {inside}, must hold the tag"
            )


def _floor(shield: ShieldCan) -> float:
    return shield.bottom + shield.wall_thickness * shield.closed_bottom


def _lid(shield: ShieldCan) -> float:
    return shield.top - shield.wall_thickness * shield.closed_top


def _mm(length: float) -> str:
    return f"{length * 1e3:.6g} mm"


def _shared(first: Outline, second: Outline) -> str:
    return f"{shared_area(first, second) * 1e6:.3g} mm² of their section"
