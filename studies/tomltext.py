"""Writes tables as TOML text, so that a study changed on the command line is stored as it was run."""

import json
import re
from collections.abc import Mapping

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(table: Mapping[str, object]) -> str:
    """``table`` as TOML; ``tomllib.loads`` of it gives the same table back."""
    loose = "".join(f"{_key(key)} = {toml_value(value)}\n" for key, value in table.items() if not _is_section(value))
    sections = "".join(_section(key, value) for key, value in table.items() if _is_section(value))
    return loose + ("\n" if loose and sections else "") + sections


def toml_value(value: object) -> str:
    """One value on one line."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{_key(str(key))} = {toml_value(part)}" for key, part in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, list):
        return f"[{', '.join(toml_value(part) for part in value)}]"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, (int, float)) else str(value)


def _is_section(value: object) -> bool:
    if isinstance(value, list):
        return bool(value) and all(isinstance(entry, dict) for entry in value)
    return isinstance(value, dict)


def _section(key: str, value: object) -> str:
    if isinstance(value, list):
        return "".join(f"[[{_key(key)}]]\n{_pairs(table)}\n" for table in value)
    return f"[{_key(key)}]\n{_pairs(value)}\n"


def _pairs(table: object) -> str:
    pairs = table.items() if isinstance(table, dict) else ()
    return "".join(f"{_key(name)} = {toml_value(part)}\n" for name, part in pairs)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else toml_value(key)
