"""Key paths, ``base_coil.wire.diameter``; into lists by name or place, ``layers.heater.pitch``, ``layers.1.pitch``."""

import re
from difflib import get_close_matches

from studies.faults import KeyPath
from studies.quantities import QuantityError, shortened

_PART = re.compile(r'\s*(?:"([^"]*)"|\'([^\']*)\'|([^."\']*))\s*(\.|$)')

Raw = dict[str, object]
"""A table as ``tomllib`` reads it."""


def split_key_path(text: str) -> tuple[str, ...]:
    """The parts of a dotted key path; a part may stand in quotation marks.

    Raises
    ------
    QuantityError
        An empty part, or quotation marks that do not close.
    """
    parts: list[str] = []
    at, more = 0, True
    while more:
        match = _PART.match(text, at)
        part = "" if match is None else (match[1] or match[2] or match[3] or "").strip()
        if match is None or not part:
            raise QuantityError(f'"{shortened(text)}" is no key path', "keys joined by dots, as in base_coil.turns")
        parts.append(part)
        at, more = match.end(), match[4] == "."
    return tuple(parts)


def resolved(raw: Raw, keys: tuple[str, ...]) -> KeyPath:
    """``keys`` with the names of list entries replaced by their places.

    Keys that ``raw`` does not hold are kept as they are: whether they may be there is for the schema to say.

    Raises
    ------
    QuantityError
        A list entry that is not there, or a key inside a plain value.
    """
    node: object = raw
    path: KeyPath = ()
    for i, key in enumerate(keys):
        if isinstance(node, list):
            place = _place(node, key, ".".join(keys[:i]))
            path, node = (*path, place), node[place]
        elif isinstance(node, dict):
            path, node = (*path, key), node.get(key, {})
        else:
            within = ".".join(keys[:i])
            raise QuantityError(f"{within} has no part {key}: it is one value", f"{within} itself", within)
    return path


def _place(entries: list[object], key: str, within: str) -> int:
    names = [str(entry.get("name", "")) if isinstance(entry, dict) else "" for entry in entries]
    if key in names:
        return names.index(key)
    if key.isascii() and key.isdigit() and len(key) < 6 and int(key) < len(entries):
        return int(key)
    allowed = f"one of {', '.join(name for name in names if name)}" if any(names) else f"0 to {len(entries) - 1}"
    near = get_close_matches(key, names, 1)
    raise QuantityError(f"{within} has no {key}", allowed, f"{within}.{near[0]}" if near else "")


def value_at(raw: Raw, path: KeyPath) -> object | None:
    """The value at a resolved path; None where there is none."""
    node: object = raw
    for key in path:
        if isinstance(node, list):
            node = node[key] if isinstance(key, int) and key < len(node) else None
        else:
            node = node.get(key) if isinstance(node, dict) else None
    return node


def replaced(raw: Raw, path: KeyPath, value: object) -> Raw:
    """``raw`` with ``value`` at a resolved path; tables on the way there are made or copied, all others are shared."""
    changed: Raw = dict(raw)
    node: object = changed
    for key in path[:-1]:
        if isinstance(node, dict):
            node[key] = inner = _copied(node.get(key, {}))
            node = inner
        elif isinstance(node, list) and isinstance(key, int):
            node[key] = inner = _copied(node[key])
            node = inner
    if isinstance(node, (dict, list)):
        node[path[-1]] = value  # type: ignore[index]
    return changed


def removed(raw: Raw, path: KeyPath) -> Raw:
    """``raw`` without the key at a resolved path; tables on the way there are copied, all others are shared."""
    node = value_at(raw, path[:-1])
    if not isinstance(node, dict) or path[-1] not in node:
        return raw
    rest = {key: value for key, value in node.items() if key != path[-1]}
    return replaced(raw, path[:-1], rest) if path[1:] else rest


def _copied(node: object) -> object:
    return dict(node) if isinstance(node, dict) else list(node) if isinstance(node, list) else node


def label(raw: Raw, path: KeyPath) -> str:
    """A path as people read it: list entries by their name where they have one."""
    parts: list[str] = []
    for i, key in enumerate(path):
        entry = value_at(raw, path[: i + 1]) if isinstance(key, int) else None
        name = entry.get("name") if isinstance(entry, dict) else None
        parts.append(name if isinstance(name, str) and name else str(key) or '""')
    return ".".join(parts)
