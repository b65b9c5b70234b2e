"""What differs in the studies of designs that are compared, key by key; values that mean the same are left out."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from studies.compared import Side
from studies.keypaths import label
from studies.quantities import QUANTITIES, QuantityError, quantity_of, read_quantity
from studies.report_numbers import is_consequence
from studies.stored import StoredDesign
from studies.study import NOT_OF_A_CANDIDATE, Study
from studies.sweep import with_axis_value
from studies.tomltext import toml_value

Kind = Literal["design", "question", "follows"]

QUESTION = ("study", "map", "require", *NOT_OF_A_CANDIDATE)
"""Tables that say what is asked of a design, not what it is."""

FREQUENCY = "study.frequency"
"""What of the study's own table makes another design: coils and capacitors for another carrier."""

NAME = "study.name"
"""Two studies that differ in their name alone are the same."""

ABSENT, FOLLOWS = "not given", "follows from others"


@dataclass(frozen=True, slots=True)
class Difference:
    """A key whose values differ: as the files give them, or as assumed, one for each side.

    ``kind`` is ``design`` for what the design is, ``question`` for what is asked of it, ``follows`` where neither file
    gives a value and what is assumed differs.
    """

    key: str
    kind: Kind
    values: tuple[str, ...]


def differences(compared: tuple[Side, ...]) -> tuple[Difference, ...]:
    """Every key of the studies that differs among the designs compared, what the design is first.

    Parameters
    ----------
    compared : tuple of Side
        A swept key counts with its value in the design that is compared.

    Returns
    -------
    tuple of Difference
    """
    given: list[Mapping[str, Any]] = [_given(side.run.study, side.stored) for side in compared]
    assumed: list[Mapping[str, Any]] = [{one.key: one for one in side.candidate.assumptions} for side in compared]
    keys = dict.fromkeys(key for table in (*given, *assumed) for key in table)
    found = []
    for key in keys:
        values = [_value(key, *both) for both in zip(given, assumed, strict=True)]
        if key == NAME or len({_meaning(value) for value in values}) == 1:
            continue
        texts = tuple(_text(key, *both) for both in zip(given, assumed, strict=True))
        found.append(Difference(key, _kind(key, given), texts))
    rank: dict[Kind, int] = {"design": 0, "question": 1, "follows": 2}
    return tuple(sorted(found, key=lambda one: rank[one.kind]))


def swept_values(study: Study, index: int, keys: tuple[str, ...]) -> tuple[object, ...]:
    """Values of keys (as `swept_keys` spells them) in a candidate, swept or not: equal where they mean the same."""
    values = dict(zip(swept_keys(study), (value for _, value in study.swept(index)), strict=True))
    missing = [key for key in keys if key not in values]
    table = _flat(study.raw) if missing else {}
    found = values | {key: _plain(_meaning(table.get(key, ABSENT))) for key in missing}
    return tuple(round_to_digits(value) if isinstance(value, float | int) else value for value in map(found.get, keys))


def _plain(meaning: object) -> object:
    """A quantity's value without its kind, as the values of an axis are."""
    return meaning[1] if isinstance(meaning, tuple) and len(meaning) == 2 else meaning


def swept_keys(study: Study) -> tuple[str, ...]:
    """Its swept keys, spelled as `differences` spells them."""
    return tuple(label(study.raw, axis.path) for axis in study.swept_axes)


def _tables_of(study: Study, index: int) -> dict[str, object]:
    raw = study.raw
    for axis, place in zip(study.swept_axes, study.places(index), strict=True):
        raw = with_axis_value(raw, axis, place)
    return raw


def _given(study: Study, stored: StoredDesign) -> dict[str, object]:
    whole: dict[str, Any] = tomllib.loads(study.text)
    others = {name: whole[name] for name in NOT_OF_A_CANDIDATE if name in whole}
    sweep = others.pop("sweep", {})
    table = _flat(_tables_of(study, stored.index) | others)
    return table | {f"sweep.{key}": values for key, values in _axes(sweep).items()}


def _axes(sweep: object) -> dict[str, object]:
    """The swept keys; one may be written with its dots as tables in one another."""
    return _flat(sweep) if isinstance(sweep, Mapping) else {}


def _flat(node: object, path: str = "") -> dict[str, object]:
    """Every plain value of nested tables by its dotted path; entries of a list go by their name, else their place."""
    if isinstance(node, Mapping) and not {"from", "to"} <= set(node):
        inner = [(str(key), value) for key, value in node.items()]
    elif isinstance(node, list) and node and all(isinstance(entry, Mapping) for entry in node):
        inner = [(str(entry.get("name") or place), entry) for place, entry in enumerate(node, 1)]
        names = [name for name, _ in inner]
        order = {f"{path} in order": ", ".join(names)} if len(names) > 1 and path in ("layers",) else {}
        return order | _joined(path, [(name, _nameless(entry)) for name, entry in inner])
    else:
        return {path: node}
    return _joined(path, inner)


def _nameless(entry: Mapping[str, object]) -> dict[str, object]:
    return {key: value for key, value in entry.items() if key != "name"}


def _joined(path: str, inner: list[tuple[str, Any]]) -> dict[str, object]:
    found: dict[str, object] = {}
    for name, value in inner:
        found |= _flat(value, f"{path}.{name}" if path else name)
    return found


def _value(key: str, given: Mapping[str, object], assumed: Mapping[str, Any]) -> object:
    if key in given:
        return given[key]
    return assumed[key].value if key in assumed else ABSENT


def _text(key: str, given: Mapping[str, object], assumed: Mapping[str, Any]) -> str:
    if key in given:
        return shown(given[key])
    if key not in assumed:
        return ABSENT
    why = FOLLOWS if is_consequence(assumed[key]) else "assumed"
    return f"{shown(assumed[key].value)} ({why})"


def shown(value: object) -> str:
    """A value as the study file has it, without quotation marks."""
    if isinstance(value, str):
        return value or "an empty text"
    if isinstance(value, list | Mapping) and not value:
        return "empty"
    if isinstance(value, Mapping) and {"from", "to"} <= set(value):
        count = f", {value['count']} values" if "count" in value else ""
        return f"{shown(value['from'])} to {shown(value['to'])}{count}"
    if isinstance(value, list):
        return ", ".join(f"({shown(one)})" if isinstance(one, list) else shown(one) for one in value)
    return toml_value(value)


def _meaning(value: object) -> object:
    """A value in a form in which ``30 mm`` and ``3 cm`` are equal."""
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return float(value)
    if isinstance(value, list):
        return tuple(_meaning(one) for one in value)
    if isinstance(value, Mapping):
        return tuple(sorted((str(key), _meaning(one)) for key, one in value.items()))
    quantity = quantity_of(value)
    if quantity is None:
        return str(value)
    try:
        return _family(quantity), round_to_digits(read_quantity(value, quantity))
    except QuantityError:
        return str(value)


def _family(quantity: str) -> tuple[str, ...]:
    """Quantities are told apart by their units: the same spelling may stand in several of them."""
    return tuple(sorted(QUANTITIES[quantity]))


def round_to_digits(value: float) -> float:
    """To twelve digits, so that what was typed in two units is equal."""
    return float(f"{value:.12g}")


def _kind(key: str, given: list[Mapping[str, Any]]) -> Kind:
    if key != FREQUENCY and key.split(".")[0].split(" ")[0] in QUESTION:
        return "question"
    return "design" if any(key in table for table in given) else "follows"
