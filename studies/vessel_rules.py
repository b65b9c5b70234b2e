"""Which keys of vessels and of the puck go together."""

from collections.abc import Iterator
from difflib import get_close_matches

from geometries.vessels import size_names, standard_names
from studies.faults import Finding, KeyPath
from studies.keypaths import Raw
from studies.schema import IN_A_SOLID

OWN = ("shape", "outer_diameter", "height")
"""Dimensions that a standard's size already has."""


def vessel_findings(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """Vessels by standard or by their own dimensions, solids that they stand in, and the puck's sizes by its shape."""
    solids = [str(solid.get("name")) for solid in _tables(raw, "solids")]
    for i, vessel in enumerate(_tables(raw, "vessels")):
        yield from _sizes(vessel, ("vessels", i))
        yield from _stands(vessel, ("vessels", i), solids)
    puck = raw.get("puck")
    if isinstance(puck, dict):
        yield from _puck(puck, swept)
        if not raw.get("vessels"):
            yield Finding(("puck",), "a puck without any vessel to lie in", "one [[vessels]] or more, or no [puck]")


def _tables(raw: Raw, key: str) -> list[Raw]:
    entries = raw.get(key)
    return [entry for entry in entries if isinstance(entry, dict)] if isinstance(entries, list) else []


def _sizes(vessel: Raw, path: KeyPath) -> Iterator[Finding]:
    standard, size = vessel.get("standard"), vessel.get("size")
    yield from _flat(vessel, path)
    if (standard is None) != (size is None):
        there, missing = ("standard", "size") if size is None else ("size", "standard")
        yield Finding((*path, there), f"{there} is given without {missing}", "both or neither")
    if standard is None and size is None:
        for key in ("outer_diameter", "height"):
            if key not in vessel:
                yield Finding((*path, key), "is missing", "outer_diameter and height, or standard and size")
        return
    for key in OWN:
        if key in vessel:
            yield Finding((*path, key), f"both {key} and a standard are given", "a standard's size or own dimensions")
    if isinstance(standard, str) and standard in standard_names():
        if isinstance(size, str) and " ".join(size.split()) not in size_names(standard):
            near = get_close_matches(size, size_names(standard), 1, 0.6)
            given, allowed = f'{standard} has no size "{size[:60]}" here', f"one of {', '.join(size_names(standard))}"
            yield Finding((*path, "size"), given, allowed, f'"{near[0]}"' if near else "")
        if standard.startswith("ISO 4797") and "neck" not in vessel:
            yield Finding((*path, "neck"), f"is missing: {standard} has several", 'a conical joint, such as "29/32"')


def _flat(vessel: Raw, path: KeyPath) -> Iterator[Finding]:
    """Only a flask has a flat, and no standard that we know says how wide."""
    flask = vessel.get("shape") == "flask" or str(vessel.get("standard")).endswith(" flat-bottom")
    if flask and "flat" not in vessel:
        yield Finding((*path, "flat"), "is missing: how wide the flat is that the flask stands on", "its diameter")
    if not flask and "flat" in vessel:
        yield Finding((*path, "flat"), "only a flask has a flat in its ball", 'shape = "flask", or no flat')


def _stands(vessel: Raw, path: KeyPath, solids: list[str]) -> Iterator[Finding]:
    stands = vessel.get("stands")
    if not isinstance(stands, str) or not stands.startswith(IN_A_SOLID):
        return
    name = stands.removeprefix(IN_A_SOLID)
    if name not in solids:
        near = get_close_matches(name, solids, 1, 0.5)
        allowed = f"one of {', '.join(solids)}" if solids else '"on the plate" where there are no solids'
        yield Finding((*path, "stands"), f'no solid is called "{name[:60]}"', allowed, f'"{near[0]}"' if near else "")


def _puck(puck: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    shape = puck.get("shape", "bar")
    needed = {"bar": "length", "disc": "height"}
    if not isinstance(shape, str) or shape not in needed:
        return
    if needed[shape] not in puck:
        yield Finding(("puck", needed[shape]), f"is missing: a {shape} needs it", "a length")
    other = needed["disc" if shape == "bar" else "bar"]
    if other in puck and ("puck", "shape") not in swept:
        yield Finding(("puck", other), f"{other} does not belong to a {shape}", f"{needed[shape]} and diameter")
