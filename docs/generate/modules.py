"""The API reference: a page for each module, written before every build and read by autodoc."""

import re
from pathlib import Path

PACKAGES = ("geometries", "fem", "links", "studies")
ABOUT = {
    "geometries": "What the thing is: stack, coils, tag, vessels, materials, wire; and their meshes.",
    "fem": "What a field is: meshes in, fields and terminal quantities out.",
    "links": "What the circuit does: two coupled resonant circuits, budgets, limits, preferred values.",
    "studies": "What the designer asks: study file, sweep, store, maps, pages, command.",
}
FOLDER = "reference/modules"

_PAGE = """:orphan:

{module}
{line}

.. automodule:: {module}
   :members:
   :member-order: bysource
   :show-inheritance:
"""
_CODE = re.compile(r"(``[^`]+``)")
_ACTIVE = re.compile(r"([*|])")


def module_names(root: Path, package: str) -> list[str]:
    """Names of a package's public modules; those of its folders too."""
    found = sorted((root / package).rglob("*.py"))
    names = [".".join(path.relative_to(root).with_suffix("").parts) for path in found]
    return [name for name in names if not name.rsplit(".", 1)[-1].startswith("_")]


def write_pages(docs: Path) -> None:
    """Write the page of every module into the folder of the pages; one whose module is gone goes too."""
    folder = docs / FOLDER
    folder.mkdir(exist_ok=True)
    pages = {name: _page(name) for package in PACKAGES for name in module_names(docs.parent, package)}
    for path in folder.glob("*.rst"):
        if path.stem not in pages:
            path.unlink()
    for name, text in pages.items():
        path = folder / f"{name}.rst"
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")  # only where it changed: what is untouched is not read again


def _page(module: str) -> str:
    return _PAGE.format(module=module, line="=" * len(module))


def modules(docs: Path) -> str:
    """Markdown: links to the modules of each package. A toctree of so many pages would double the time of a build."""
    parts = []
    for package in PACKAGES:
        links = "\n".join(f"- [`{name}`](modules/{name}.rst)" for name in module_names(docs.parent, package))
        parts.append(f"## `{package}`\n\n{ABOUT[package]}\n\n{links}")
    return "\n\n".join(parts)


def plain_signs(lines: list[str]) -> None:
    """Let ``|M|`` and ``a*b`` of a docstring stand as they are, outside code, where rst would read something else."""
    lines[:] = [
        "".join(part if i % 2 else _ACTIVE.sub(r"\\\1", part) for i, part in enumerate(_CODE.split(line)))
        for line in lines
    ]
