"""Checks the tables of a study file one by one and says what is wrong with them in our own words.

Each top-level table is read apart, so that a fault in one does not hide what another says.
"""

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError

from studies.faults import Finding, KeyPath
from studies.keypaths import Raw
from studies.quantities import kind_of
from studies.schema import (
    BaseCoilTable,
    DriveTable,
    LayerTable,
    LeadTable,
    LinkTable,
    MagnetTable,
    MapTable,
    NeighbourTable,
    PuckTable,
    RequireTable,
    SolidTable,
    StudyFile,
    StudyTable,
    TagTable,
    VesselTable,
)
from studies.schema_values import FAULT_TYPE


@dataclass(frozen=True, slots=True)
class Sections:
    """The top-level tables of a file, each None where it is faulty or missing."""

    study: StudyTable | None
    layers: list[LayerTable] | None
    solids: list[SolidTable] | None
    base_coil: BaseCoilTable | None
    tag: TagTable | None
    drive: DriveTable | None
    lead: LeadTable | None
    link: LinkTable | None
    map: MapTable | None
    require: RequireTable | None
    vessels: list[VesselTable] | None
    magnets: list[MagnetTable] | None
    neighbour: NeighbourTable | None
    puck: PuckTable | None


def read_sections(raw: Raw) -> tuple[Sections, tuple[Finding, ...]]:
    """Read every table of a file.

    Parameters
    ----------
    raw : dict
        The file without its ``sweep``.

    Returns
    -------
    Sections
        What could be read.
    tuple of Finding
        All faults of single values: unknown keys, missing keys, wrong kinds, units and bounds.
    """
    findings = [_unknown((), key, StudyFile) for key in raw if key not in StudyFile.model_fields]
    read: dict[str, Any] = {}
    for name, field in StudyFile.model_fields.items():
        read[name] = None
        if name not in raw:
            if field.is_required():
                findings.append(Finding((name,), "is missing", f"a table [{name}]"))
            else:
                read[name] = field.default
            continue
        read[name], found = _section(name, raw[name])
        findings += found
    return Sections(**read), tuple(findings)


LARGEST_LISTS = {"layers": 100, "solids": 100, "magnets": 100, "vessels": 100}
"""Entries that a list of parts may have: each is held against all others, and meshed."""

_LAST: dict[str, tuple[object, Any, tuple[Finding, ...]]] = {}
"""The last reading of each table, with the table read: tables are never changed in place."""


def _section(name: str, given: object) -> tuple[Any, tuple[Finding, ...]]:
    """One table, or what is wrong with it; the designs of a sweep share all tables but a few."""
    last = _LAST.get(name)
    if last is not None and last[0] is given:
        return last[1:]
    largest = LARGEST_LISTS.get(name)
    if largest is not None and isinstance(given, list) and len(given) > largest:
        return None, (Finding((name,), f"a list of {len(given)} tables", f"at most {largest}"),)
    read: Any = None
    found: tuple[Finding, ...] = ()
    try:
        read = _adapter(name).validate_python(given)
    except ValidationError as error:
        found = tuple(_finding(name, dict(one)) for one in error.errors(include_url=False))
    _LAST[name] = (given, read, found)
    return read, found


def allowed_at(path: KeyPath) -> str:
    """What the schema allows at a path, as a clause."""
    model = _model_at(path[:-1])
    field = None if model is None else model.model_fields.get(str(path[-1]))
    if field is None:
        return ""
    for marker in (*field.metadata, *_markers(field.annotation)):
        if hasattr(marker, "allowed"):
            return str(marker.allowed)
    inner = _model_in(field.annotation)
    return "" if inner is None else f"a table with {', '.join(inner.model_fields)}"


def has_key(path: KeyPath, key: str) -> bool:
    """Whether the table at a path of the schema can hold a key."""
    model = _model_at(path)
    return model is not None and key in model.model_fields


@cache
def _adapter(name: str) -> TypeAdapter[Any]:
    annotation: Any = StudyFile.model_fields[name].annotation
    return TypeAdapter(annotation)


def _finding(section: str, error: dict[str, Any]) -> Finding:
    """One of pydantic's errors as a finding."""
    path: KeyPath = (section, *error["loc"])
    if error["type"] == FAULT_TYPE:
        return Finding(path, error["ctx"]["given"], error["ctx"]["allowed"], error["ctx"]["hint"])
    if error["type"] == "extra_forbidden":
        return _unknown(path[:-1], str(path[-1]), _model_at(path[:-1]))
    if error["type"] == "missing":
        return Finding(path, "is missing", allowed_at(path))
    if error["type"] == "list_type":
        return Finding(path, f"{kind_of(error['input'])} where a list belongs", "a list [ ... ]")
    if error["type"] in ("model_type", "model_attributes_type"):
        model = _model_at(path)
        keys = ", ".join(model.model_fields) if model else ""
        return Finding(path, f"{kind_of(error['input'])} where a table belongs", f"a table with {keys}")
    return Finding(path, str(error["msg"]), allowed_at(path))


def _unknown(path: KeyPath, key: str, model: type[BaseModel] | None) -> Finding:
    known = list(model.model_fields) if model else []
    known += ["sweep", "sampling", "temperatures", "spread"] if model is StudyFile else []
    near = get_close_matches(key.lower(), known, 1, 0.6)
    return Finding((*path, key), "is not a key known here", f"one of {', '.join(known)}", near[0] if near else "")


def _model_at(path: KeyPath) -> type[BaseModel] | None:
    """The table that stands at a path of the schema."""
    model: type[BaseModel] | None = StudyFile
    for key in path:
        if isinstance(key, int):
            continue
        field = None if model is None else model.model_fields.get(key)
        model = None if field is None else _model_in(field.annotation)
    return model


def _model_in(annotation: Any) -> type[BaseModel] | None:
    """The table class in an annotation, within lists and alternatives."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((model for model in map(_model_in, get_args(annotation)) if model is not None), None)


def _markers(annotation: Any) -> tuple[Any, ...]:
    """The markers of an ``Annotated`` that stands in an alternative or a list."""
    if get_origin(annotation) is Annotated:
        first, *markers = get_args(annotation)
        return (*markers, *_markers(first))
    if get_origin(annotation) in (Union, UnionType, list):
        return tuple(marker for part in get_args(annotation) for marker in _markers(part))
    return ()
