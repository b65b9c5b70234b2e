"""The Sphinx extension: marks in pages give way to what is made from the code; formulas become MathML."""

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from pygments.lexers.special import TextLexer
from sphinx.application import Sphinx

from docs.generate import mathml
from docs.generate.commands import commands
from docs.generate.guides import guides
from docs.generate.modules import modules, plain_signs, write_pages
from docs.generate.study_keys import study_keys

MAKERS: dict[str, Callable[[Path], str]] = {
    "commands": commands,
    "guides": guides,
    "modules": modules,
    "study keys": study_keys,
}
"""What makes the Markdown that takes the place of a mark, given the folder of the pages."""

_MARK = re.compile(r"^<!-- made: ([a-z ]+) -->$", re.MULTILINE)


def setup(app: Sphinx) -> dict[str, Any]:
    """Register with Sphinx."""
    app.add_lexer("csv", TextLexer)
    app.add_html_math_renderer("mathml", (mathml.visit_inline, None), (mathml.visit_block, None))
    app.connect("builder-inited", lambda app: write_pages(Path(app.srcdir)))
    app.connect("autodoc-process-docstring", _plain_signs, priority=100)  # before napoleon, which writes rst
    app.connect("source-read", _with_what_is_made)
    app.connect("env-get-outdated", _pages_with_marks)
    return {"parallel_read_safe": True, "parallel_write_safe": True}


def _with_what_is_made(app: Sphinx, page: str, source: list[str]) -> None:
    source[0] = _MARK.sub(lambda mark: MAKERS[mark[1]](Path(app.srcdir)), source[0])


def _plain_signs(app: Sphinx, what: str, name: str, thing: object, options: object, lines: list[str]) -> None:
    plain_signs(lines)


def _pages_with_marks(app: Sphinx, env: Any, added: set[str], changed: set[str], removed: set[str]) -> list[str]:
    """Pages to be read again at every build: Sphinx does not see that the code behind a mark has changed."""
    return [page for page in env.found_docs if _MARK.search(Path(env.doc2path(page)).read_text(encoding="utf-8"))]
