"""Texts of the code as Markdown."""

import re

_CODE = re.compile(r"``([^`]+)``")
_ACTIVE = re.compile(r"([*_<>|])")


def code(text: str) -> str:
    """In the type of code."""
    return f"`{text}`"


def mended(text: str) -> str:
    """A docstring's prose: code stays code, signs that Markdown would read stay as they are, one line a paragraph."""
    paragraphs = [" ".join(one.split()) for one in text.strip().split("\n\n")]
    return "\n\n".join(_prose(one) for one in paragraphs)


def _prose(text: str) -> str:
    parts = _CODE.split(text)
    return "".join(code(part) if place % 2 else _ACTIVE.sub(r"\\\1", part) for place, part in enumerate(parts))
