"""The workshop's section read back by an XML reader and by ezdxf: sizes are those of the study file."""

import re
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest

import studies.workshop_section
from studies.drawing import Scene, unsolved_scene
from studies.errors import RunError
from studies.extras import needed
from studies.specification import Place
from studies.workshop_section import section_svg, write_section_dxf
from tests.studies.conftest import FULL, Reader

VESSEL = """
[[vessels]]
name = "beaker"
shape = "flat"
outer_diameter = "80 mm"
height = "100 mm"
wall_thickness = "2 mm"
bottom_thickness = "2.5 mm"
"""
TILTED, UPRIGHT = Place(30e-3, 4e-3, 0.3), Place(30e-3, 4e-3, 0.0)
ODD = [
    'o\'brien "x" <b>&</b>',
    "a/b\\c|d:e;f*g?h,i=j`k",
    "x\n0\nEOF\n0\nLINE",
    "]]>\x00\x07 %%d",
    "A/B\\c:d:e;f*g?h,i=j`k",
]


@dataclass(frozen=True)
class Size:
    """Least and greatest x and y of all outlines [mm], how many there are, and the area they enclose [mm²]."""

    box: tuple[float, float, float, float]
    outlines: int
    area: float


SIZES = {  # from the study file: widths are diameters, heights follow from thicknesses, clearance and winding length
    "plate": Size((-90.0, 90.0, -4.0, 0.0), 1, 720.0),
    "heater": Size((-75.0, 75.0, -4.02, -4.0), 1, 150.0 * 0.02),
    "pan": Size((-80.0, 80.0, -40.0, -38.0), 1, 320.0),
    "beaker": Size((-40.0, 40.0, 0.0, 100.0), 1, 80.0 * 100.0 - 76.0 * 97.5),
    "base coil": Size((-23.5, 23.5, -7.52, -4.52), 2, 18.0),
    "tag core": Size((1.0, 7.0, 28.0, 32.0), 1, 2 * 6.0 * 0.8 + 2.0 * 2.4),
    "tag coil": Size((4.0 - 2.6, 4.0 + 2.6, 29.0, 31.0), 2, 2 * 1.4 * 2.0),
}


@pytest.fixture
def scene(read: Reader) -> Scene:
    return replace(unsolved_scene(read(FULL + VESSEL).base), place=UPRIGHT)


def size_of(outlines: list[list[tuple[float, float]]]) -> Size:
    xs, ys = zip(*(corner for outline in outlines for corner in outline), strict=True)
    area = sum(
        abs(sum(a * d - b * c for (a, b), (c, d) in zip(one, [*one[1:], one[0]], strict=True))) for one in outlines
    )
    return Size((min(xs), max(xs), min(ys), max(ys)), len(outlines), 0.5 * area)


def svg_parts(text: str) -> dict[str, Size]:
    """Parts of an SVG by name; one unit must be a millimetre on paper, and each path closed."""
    svg = ElementTree.fromstring(text)
    _, _, width, height = map(float, svg.get("viewBox", "").split())
    assert (svg.get("width"), svg.get("height")) == (f"{width:.6f}mm", f"{height:.6f}mm")
    found = {}
    for group in svg.iter("{http://www.w3.org/2000/svg}g"):
        outlines = []
        for path in group.iter("{http://www.w3.org/2000/svg}path"):
            assert re.fullmatch(r"M [-\d. L]+ Z", path.get("d", ""))
            numbers = [float(one) for one in re.findall(r"-?[\d.]+", path.get("d", ""))]
            outlines.append([(x, -y) for x, y in zip(numbers[::2], numbers[1::2], strict=True)])
        found[group.get("data-part")] = size_of(outlines)
    return found


def dxf_parts(file: Path) -> dict[str, Size]:
    """Layers of a DXF by name; every polyline must be closed, the unit the millimetre, the file without a fault."""
    document = ezdxf.readfile(file)
    assert not document.audit().has_errors
    assert document.header["$INSUNITS"] == 4
    outlines: dict[str, list[list[tuple[float, float]]]] = {}
    for line in document.modelspace().query("LWPOLYLINE"):
        assert line.closed
        outlines.setdefault(line.dxf.layer, []).append([(x, y) for x, y in line.get_points("xy")])
    return {layer: size_of(found) for layer, found in outlines.items()}


def check(found: dict[str, Size]) -> None:
    assert found.keys() == SIZES.keys()
    for name, size in found.items():
        assert size.box == pytest.approx(SIZES[name].box, rel=0.0, abs=2e-6), name
        assert size.outlines == SIZES[name].outlines, name
        assert size.area == pytest.approx(SIZES[name].area, rel=1e-4, abs=0.0), name


def test_the_svg_is_to_scale(scene: Scene) -> None:
    check(svg_parts(section_svg("a design", scene, [])))


def test_the_dxf_is_to_scale(scene: Scene, tmp_path: Path) -> None:
    write_section_dxf(tmp_path / "section.dxf", "a design", scene, [])
    check(dxf_parts(tmp_path / "section.dxf"))


def test_a_leaning_tag_keeps_its_size(scene: Scene, tmp_path: Path) -> None:
    leaning = replace(scene, place=TILTED)
    write_section_dxf(tmp_path / "section.dxf", "a design", leaning, [])
    for found in (svg_parts(section_svg("a design", leaning, [])), dxf_parts(tmp_path / "section.dxf")):
        assert found["tag core"].area == pytest.approx(SIZES["tag core"].area, rel=1e-5)
        left, right, low, high = found["tag core"].box
        assert 0.5 * (left + right) == pytest.approx(4.0, abs=1e-5)
        assert high - low == pytest.approx(4.0 * 0.955336489 + 6.0 * 0.295520207, abs=1e-5)  # cos and sin of 0.3 rad
    assert "measured as it leans" in section_svg("a design", leaning, [])


def test_cautions_stand_beside_the_section(scene: Scene, tmp_path: Path) -> None:
    svg = ElementTree.fromstring(section_svg("a design", scene, ["hot & live"]))
    assert "CAUTION: hot & live" in [one.text for one in svg.iter("{http://www.w3.org/2000/svg}text")]
    write_section_dxf(tmp_path / "section.dxf", "a design", scene, ["hot & live"])
    texts = [one.dxf.text for one in ezdxf.readfile(tmp_path / "section.dxf").modelspace().query("TEXT")]
    assert "CAUTION: hot & live" in texts


def test_odd_names_break_nothing(scene: Scene, tmp_path: Path) -> None:
    stack = scene.candidate.stack
    layers = [replace(stack.layers[0], name=name) for name in ODD]
    odd = replace(scene, candidate=replace(scene.candidate, stack=replace(stack, layers=tuple(layers))))
    text = section_svg(ODD[0], odd, ODD)
    assert "<b>" not in text
    assert ODD[0] in svg_parts(text)
    assert len(svg_parts(text)) == len(ODD) + len(SIZES) - 2
    write_section_dxf(tmp_path / "section.dxf", ODD[0], odd, ODD)
    found = dxf_parts(tmp_path / "section.dxf")
    assert len(found) == len(ODD) + len(SIZES) - 2
    assert not any("%%" in one.dxf.text for one in ezdxf.readfile(tmp_path / "section.dxf").modelspace().query("TEXT"))


def test_a_missing_package_is_named(monkeypatch: pytest.MonkeyPatch, scene: Scene, tmp_path: Path) -> None:
    monkeypatch.setattr(studies.workshop_section, "needed", lambda _, wanted: needed("no_such_package", wanted))
    with pytest.raises(RunError, match=r'dxf needs the package no_such_package: pip install "trivet\[export\]"'):
        write_section_dxf(tmp_path / "section.dxf", "a design", scene, [])


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_solid_on_the_axis_is_one_outline_wherever_its_corners_begin(turn: int, scene: Scene) -> None:
    stack = scene.candidate.stack
    (pan,) = stack.solids
    turned = replace(pan, outline=(*pan.outline[turn:], *pan.outline[:turn]))
    other = replace(scene, candidate=replace(scene.candidate, stack=replace(stack, solids=(turned,))))
    check(svg_parts(section_svg("a design", other, [])))
