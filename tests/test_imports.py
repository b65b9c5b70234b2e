"""Imports run one way: geometries → fem → links → studies. Two files know gmsh; the core reads no files."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
ORDER = ("geometries", "fem", "links", "studies")
ALLOWED = {
    "geometries": {"geometries"},
    "fem": {"geometries", "fem"},
    "links": {"links"},
    "studies": {"geometries", "fem", "links", "studies"},
}
EDGE_ONLY = {"pydantic", "click", "rich", "matplotlib", "jinja2", "h5netcdf", "h5py", "xarray"}


def modules() -> list[Path]:
    return sorted(path for package in ORDER for path in (ROOT / package).rglob("*.py"))


def imported(path: Path) -> set[str]:
    names = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names.add(node.module.split(".")[0])
    return names


@pytest.mark.parametrize("path", modules(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_a_module_imports_only_to_its_left(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    assert imported(path) & set(ORDER) <= ALLOWED[package]


@pytest.mark.parametrize("path", modules(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_the_core_knows_no_command_line_validation_or_plotting(path: Path) -> None:
    if path.relative_to(ROOT).parts[0] != "studies":
        assert not imported(path) & EDGE_ONLY


def test_two_files_touch_the_mesher() -> None:
    assert [path.name for path in modules() if "gmsh" in imported(path)] == ["ball_meshing.py", "meshing.py"]
