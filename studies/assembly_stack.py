"""The layers and solids of a candidate, placed from the plate's top surface downward."""

from math import pi

from geometries.constants import MAGNETIC_CONSTANT, skin_depth
from geometries.errors import GeometryError
from geometries.heater import ribbon_length, ribbon_thickness_from_rating
from geometries.materials import Material
from geometries.stack import RIBBON_KINDS, Layer, Solid
from studies.assembly_shapes import shape_outline
from studies.notes import Notes
from studies.quantities import quantity_text
from studies.schema import LayerTable, SolidTable

DEFAULT_OUTER_DIAMETER = 150e-3
DEFAULT_RIBBON_MATERIAL = "nickel-chromium 80/20"
DEFAULT_RIBBON_WIDTH = 2.5e-3
DEFAULT_PITCH = 4e-3
DEFAULT_RIBBON_THICKNESS = 0.02e-3
ROOM_TEMPERATURE = 20.0
HEATER_TEMPERATURE = 350.0

_SCREENING_DOUBTFUL = 2.0
_SCREENING_LARGEST = 2.0 * pi
_CONTRADICTION = 0.2


def layer_of(table: LayerTable, frequency: float, notes: Notes) -> Layer:
    """One layer, its top still at height 0; ``frequency`` [Hz] says whether a ribbon is thin enough."""
    key = f"layers.{table.name}"
    outer = notes.chosen(
        table.outer_diameter,
        DEFAULT_OUTER_DIAMETER,
        f"{key}.outer_diameter",
        quantity_text(DEFAULT_OUTER_DIAMETER, "length"),
        "wide against the coil, about a hot plate's size",
    )
    inner = table.inner_diameter or 0.0
    if table.kind == "gap":
        return Layer(table.name, "gap", None, 0.0, table.thickness or 0.0, outer / 2, inner / 2)
    if table.kind in RIBBON_KINDS:
        return _ribbon_layer(table, outer, inner, frequency, notes)
    temperature = _temperature(table.temperature, ROOM_TEMPERATURE, key, "room temperature", notes)
    material = notes.material(table.material, "air", f"{key}.material", temperature)
    return Layer(table.name, table.kind, material, 0.0, table.thickness or 0.0, outer / 2, inner / 2, temperature)


def _ribbon_layer(table: LayerTable, outer: float, inner: float, frequency: float, notes: Notes) -> Layer:
    key = f"layers.{table.name}"
    temperature = _temperature(table.temperature, HEATER_TEMPERATURE, key, "a heater at work", notes)
    material = notes.material(table.material, DEFAULT_RIBBON_MATERIAL, f"{key}.material", temperature)
    width = notes.chosen(
        table.ribbon_width, DEFAULT_RIBBON_WIDTH, f"{key}.ribbon_width",
        quantity_text(DEFAULT_RIBBON_WIDTH, "length"), "an ordinary flat heater (common practice, no source)",
    )  # fmt: skip
    pitch = notes.chosen(
        table.pitch, DEFAULT_PITCH, f"{key}.pitch",
        quantity_text(DEFAULT_PITCH, "length"), "an ordinary flat heater (common practice, no source)",
    )  # fmt: skip
    resistivity = material.resistivity(temperature)
    if resistivity is None or material.magnetic:
        what = "does not conduct" if resistivity is None else f"is magnetic at {temperature:g} degC"
        allowed = "a conductor that is not magnetic at its temperature: only a ribbon's eddy currents are modelled"
        notes.impossible(f"{key}.material", f"a ribbon of {material.name} {what}", allowed)
        material, resistivity = Material(material.name, 1e-6), 1e-6
    if inner < outer:
        thickness = _ribbon_thickness(table, (outer, inner, width, pitch), resistivity, notes)
    else:
        thickness = table.thickness or DEFAULT_RIBBON_THICKNESS
    layer = Layer(
        table.name, table.kind, material, 0.0, thickness, outer / 2, inner / 2, temperature, width, pitch,
        *_termination(table, notes),
    )  # fmt: skip
    _check_ribbon(layer, frequency, notes)
    return layer


def _termination(table: LayerTable, notes: Notes) -> tuple[float, float]:
    """Resistance [Ω] and inductance [H] that join the ends of a shorted spiral; a plain short where none is given."""
    if table.kind != "shorted spiral":
        return 0.0, 0.0
    if table.termination is None:
        notes.chosen(
            None, 0.0, f"layers.{table.name}.termination", "a plain short",
            "the most current that can flow; leads and mains at the working frequency let less through",
        )  # fmt: skip
        return 0.0, 0.0
    return table.termination.resistance, table.termination.inductance


def _ribbon_thickness(
    table: LayerTable, sizes: tuple[float, float, float, float], resistivity: float, notes: Notes
) -> float:
    """Thickness as given or as the rating implies; a contradiction between the two is a warning."""
    key = f"layers.{table.name}"
    if table.rated_power is None or table.rated_voltage is None:
        text = quantity_text(DEFAULT_RIBBON_THICKNESS, "length")
        reason = "an ordinary flat heater (common practice, no source)"
        return notes.chosen(table.thickness, DEFAULT_RIBBON_THICKNESS, f"{key}.thickness", text, reason)
    outer, inner, width, pitch = sizes
    length = ribbon_length(outer / 2, inner / 2, pitch)
    rated = ribbon_thickness_from_rating(resistivity, length, width, table.rated_power, table.rated_voltage)
    if table.thickness is None:
        reason = "follows from the rating, the covered area and the ribbon's width and pitch"
        return notes.chosen(None, rated, f"{key}.thickness", quantity_text(rated, "length"), reason)
    if abs(table.thickness / rated - 1.0) > _CONTRADICTION:
        notes.warnings.append(
            f"{key}.thickness: {_length(table.thickness)} was given, but the rating implies {_length(rated)}; "
            f"the {_length(table.thickness)} are used"
        )
    return table.thickness


def _check_ribbon(layer: Layer, frequency: float, notes: Notes) -> None:
    """Whether the thin-layer model holds: t ≤ δ/3, and X = ωμ0σt·w within its range."""
    key, width = f"layers.{layer.name}", layer.ribbon_width or 0.0
    depth = skin_depth(frequency, layer.conductivity)
    if layer.thickness > depth / 3.0:
        given = f"a ribbon {_length(layer.thickness)} thick"
        notes.impossible(f"{key}.thickness", given, f"at most a third of its skin depth, {_length(depth / 3.0)}")
    number = 2.0 * pi * frequency * MAGNETIC_CONSTANT * layer.conductivity * layer.thickness * width
    if number > _SCREENING_LARGEST:
        given = f"a ribbon whose screening number X = omega mu0 sigma t w is {number:.3g}"
        notes.impossible(f"{key}.ribbon_width", given, "at most 6.28, where the model of ribbons ends")
    elif number > _SCREENING_DOUBTFUL:
        notes.warnings.append(
            f"{key}: the ribbon's screening number X = omega mu0 sigma t w is {number:.3g}; "
            "above 2 its eddy-current loss is less certain"
        )


def solid_of(table: SolidTable, notes: Notes) -> Solid | None:
    """One solid in its place; None where its sizes make no body, which is noted."""
    key = f"solids.{table.name}"
    temperature = _temperature(table.temperature, ROOM_TEMPERATURE, key, "room temperature", notes)
    material = notes.material(table.material, "air", f"{key}.material", temperature)
    if table.outline is not None:
        outline = tuple((corner[0], corner[1]) for corner in table.outline)
        return Solid(table.name, material, outline, temperature)
    try:
        return Solid(table.name, material, shape_outline(table, notes), temperature, table.shape or "")
    except GeometryError as error:
        notes.refused(error, f"{key}.{error.key}")
        return None


def _temperature(given: float | None, default: float, key: str, reason: str, notes: Notes) -> float:
    return notes.chosen(given, default, f"{key}.temperature", quantity_text(default, "temperature"), reason)


def _length(value: float) -> str:
    return quantity_text(value, "length")
