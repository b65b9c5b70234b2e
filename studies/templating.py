"""The pages' templates: everything that is put into one is escaped, and what is missing is a fault."""

from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "templates"


@cache
def page_template(name: str) -> Any:
    """The template of a page, by its file's name."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(loader=FileSystemLoader(FOLDER), autoescape=True, undefined=StrictUndefined)
    environment.trim_blocks = environment.lstrip_blocks = True
    return environment.get_template(name)
