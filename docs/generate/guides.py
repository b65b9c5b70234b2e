"""The list of the pages to begin with: the tutorial and the how-to pages that are there."""

from pathlib import Path

ORDER = (
    "sweep", "compare-and-review", "off-centre-and-tilt", "vessels-and-puck", "states", "stock-parts",
    "tolerances-and-yield", "bench-readings", "export", "resume", "magnets", "fields-and-neighbours", "python",
)  # fmt: skip
"""How-to pages as most need them; what is not named here follows by its name."""


def guides(folder: Path) -> str:
    """A toctree of ``tutorial.md`` and ``how-to/*.md``; nothing where there is none of them.

    Sphinx's own ``:glob:`` warns of a pattern that matches nothing, and warnings are errors here.
    """
    how_tos = sorted((folder / "how-to").glob("*.md"), key=lambda page: (_place(page.stem), page.stem))
    pages = [*sorted(folder.glob("tutorial*.md")), *how_tos]
    names = [page.relative_to(folder).with_suffix("").as_posix() for page in pages]
    return "\n".join(("```{toctree}", ":caption: To begin", ":maxdepth: 1", "", *names, "```")) if names else ""


def _place(name: str) -> int:
    return ORDER.index(name) if name in ORDER else len(ORDER)
