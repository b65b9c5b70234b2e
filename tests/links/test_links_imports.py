"""The links take numbers only: nothing but numpy, the standard library and themselves."""

import ast
import sys
from pathlib import Path

import links

ALLOWED = {"links", "numpy"} | set(sys.stdlib_module_names)


def test_the_links_import_nothing_to_their_right_or_left() -> None:
    files = sorted(Path(links.__file__).parent.glob("*.py"))
    assert len(files) > 10
    for file in files:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert {name.split(".")[0] for name in names} <= ALLOWED, file.name
            assert not (isinstance(node, ast.Call) and getattr(node.func, "id", "") in {"print", "open"}), file.name
