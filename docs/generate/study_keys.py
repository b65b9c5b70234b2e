"""The reference of the study file: every key from the schema, with what it may hold and what stands in its place."""

import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from docs.generate.text import code, mended
from studies.schema import StudyFile
from studies.schema_faults import allowed_at
from studies.schema_values import rising, some, three_lengths, two_lengths, unit_vector
from studies.study import read_study

ROOT = Path(__file__).resolve().parents[2]
MEANINGS = Path(__file__).with_name("key-meanings.toml")
PROBES = ("first-look", "culture-bench", "heat-block", "spiral-heater", "bar-magnets", "full-vocabulary")
"""Studies of the library whose assumptions say what stands in the place of a key that a file leaves open."""

Table = type[BaseModel]
_LISTS = {
    rising: "a single value, a list or a range `{ from, to, count }`, rising; each",
    three_lengths: "three of them, `[x, y, z]`; each",
    unit_vector: "three of them, `[x, y, z]`, not all 0; each",
    two_lengths: "a list of corners `[r, z]`; each number",
    some: "a list of one or more; each",
}


def study_keys(folder: Path) -> str:
    """Markdown: a section for each table of a study file, a definition for each of its keys."""
    sections = [_section(table, places) for table, places in tables().items()]
    return "\n\n".join(sections)


def tables() -> dict[Table, tuple[str, ...]]:
    """Every table class with the paths where it stands, in the file's order; the file itself first, at ``""``."""
    found: dict[Table, list[str]] = {}

    def walk(table: Table, place: str) -> None:
        found.setdefault(table, []).append(place)
        for key, field in table.model_fields.items():
            for inner in inner_tables(field.annotation):
                walk(inner, f"{place}.{key}".removeprefix("."))

    walk(StudyFile, "")
    return {table: tuple(places) for table, places in found.items()}


def inner_tables(annotation: Any) -> Iterator[Table]:
    """Table classes in an annotation, within lists and alternatives."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from inner_tables(part)


@cache
def meanings() -> dict[str, dict[str, str]]:
    """What each key of each table class means."""
    return tomllib.loads(MEANINGS.read_text(encoding="utf-8"))


@cache
def assumed() -> dict[str, tuple[str, ...]]:
    """What stands in the place of a key that is left open, by its path without the names of parts; each once."""
    found: dict[str, list[str]] = {}
    for probe in PROBES:
        for one in read_study(ROOT / "studies" / "library" / f"{probe}.toml").base.assumptions:
            told = found.setdefault(_without_names(one.key), [])
            text = f"{one.value} ({one.reason})"
            if text not in told:
                told.append(text)
    return {key: tuple(told) for key, told in found.items()}


def _without_names(key: str) -> str:
    first, *rest = key.split(".")
    field = StudyFile.model_fields[first]
    named = get_origin(field.annotation) is list
    return ".".join([first, *(rest[1:] if named else rest)])


def _section(table: Table, places: tuple[str, ...]) -> str:
    title, label = _title(table, places)
    about = [*_paths(places), *_remarks(table)]
    keys = [_entry(table, key, field, places) for key, field in table.model_fields.items()]
    return "\n\n".join([f"({label})=\n## {title}", *about, *keys])


def _title(table: Table, places: tuple[str, ...]) -> tuple[str, str]:
    label = f"table-{table.__name__.removesuffix('Table').lower()}"
    if table is StudyFile:
        return "The file's tables", label
    if len(places) > 1:
        return f"A {places[0].rsplit('.', 1)[-1]}", label
    return code(_header(places[0])), label


def _header(place: str) -> str:
    """``[[layers]]`` for a list of tables, ``[study]`` for one."""
    field = _field_at(place)
    return f"[[{place}]]" if get_origin(_bare(field.annotation)) is list else f"[{place}]"


def _field_at(place: str) -> FieldInfo:
    *before, last = place.split(".")
    table: Table = StudyFile
    for key in before:
        table = next(inner_tables(table.model_fields[key].annotation))
    return table.model_fields[last]


def _bare(annotation: Any) -> Any:
    return get_args(annotation)[0] if get_origin(annotation) is Annotated else annotation


def _paths(places: tuple[str, ...]) -> list[str]:
    if len(places) == 1:
        return []
    return ["It stands at " + ", ".join(code(place) for place in places) + "."]


def _remarks(table: Table) -> list[str]:
    """What the class says of its keys together; its own name alone is no remark."""
    said = (table.__doc__ or "").strip()
    return [] if table is StudyFile or (said.endswith("``.") and " " not in said) else [mended(said)]


def _entry(table: Table, key: str, field: FieldInfo, places: tuple[str, ...]) -> str:
    path = f"{places[0]}.{key}".removeprefix(".")
    particulars = f"{_may_hold(path, field)} {_in_its_place(places, key, field)}"
    return f"{code(key)}\n: {meanings()[table.__name__][key]}\n\n  {particulars}"


def _may_hold(path: str, field: FieldInfo) -> str:
    inner = next(inner_tables(field.annotation), None)
    marker_text = "" if inner and not _text_or_table(field.annotation) else allowed_at(tuple(path.split(".")))
    if inner is not None and marker_text:
        return f"{_sentence(marker_text)} The table is [described here](#{_label(inner)})."
    if inner is not None:
        many = get_origin(_bare(field.annotation)) is list
        return f"{'A list of tables' if many else 'A table'}, [described here](#{_label(inner)})."
    if field.annotation in (bool, bool | None):
        return "`true` or `false`."
    return _sentence(_listed(field) + marker_text)


def _text_or_table(annotation: Any) -> bool:
    return str in get_args(_bare(annotation)) or any(_text_or_table(part) for part in get_args(annotation))


def _listed(field: FieldInfo) -> str:
    """How several values are given, before what each of them may be."""
    functions = [getattr(marker, "func", None) for marker in (*field.metadata, *_markers(field.annotation))]
    words = [text for function, text in _LISTS.items() if function in functions]
    return f"{words[0]} " if words else ""


def _markers(annotation: Any) -> Iterator[Any]:
    if get_origin(annotation) is Annotated:
        first, *markers = get_args(annotation)
        yield from markers
        yield from _markers(first)
    elif get_origin(annotation) in (Union, UnionType, list):
        for part in get_args(annotation):
            yield from _markers(part)


def _label(table: Table) -> str:
    return _title(table, ("",))[1] if table is StudyFile else f"table-{table.__name__.removesuffix('Table').lower()}"


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _in_its_place(places: tuple[str, ...], key: str, field: FieldInfo) -> str:
    """Whether a file must give the key, and what stands in its place where it does not."""
    if field.is_required():
        return "**Required.**"
    told = dict.fromkeys(text for place in places for text in assumed().get(f"{place}.{key}".removeprefix("."), ()))
    if told:
        return f"*Left open:* {'; or '.join(mended(text) for text in told)}."
    if isinstance(field.default, (int, float, str)):
        default = field.default if isinstance(field.default, str) else f"{field.default:g}"
        return f"*Left open:* {code(default)}."
    return "*Optional.*"
