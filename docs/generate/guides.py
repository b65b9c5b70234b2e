"""The list of the pages to begin with: the tutorial and the how-to pages that are there."""

from pathlib import Path


def guides(folder: Path) -> str:
    """A toctree of ``tutorial.md`` and ``how-to/*.md``; nothing where there is none of them.

    Sphinx's own ``:glob:`` warns of a pattern that matches nothing, and warnings are errors here.
    """
    pages = [*sorted(folder.glob("tutorial*.md")), *sorted((folder / "how-to").glob("*.md"))]
    names = [page.relative_to(folder).with_suffix("").as_posix() for page in pages]
    return "\n".join(("```{toctree}", ":caption: To begin", ":maxdepth: 1", "", *names, "```")) if names else ""
