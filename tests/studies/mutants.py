"""Study files spoilt at random: the same seed and number give the same file, byte for byte.

A mutant starts from a study that can be run and suffers one to four changes of its tables, its text, or both. Most
changes are of a kind that a hand or a script makes: a key too many or too few, another unit, a number off by a power of
ten, part of another study. The others are what nobody would write.
"""

import tomllib
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from random import Random
from typing import Any

from studies.tomltext import toml_text
from tests.studies.conftest import BARE, LIBRARY
from tests.studies.small import SMALL

HEAD, _, SWEPT = SMALL.partition("[sweep]")
STOCK = """
[study]
name = "stock-part"
frequency = "125 kHz"
accuracy = 0.05

[[layers]]
name = "plate"
material = { resistivity = "1e3 ohm m", relative_permeability = 1.1, loss_factor = 0.01 }
thickness = "2 mm"

[[solids]]
name = "foot"
shape = "disc"
material = "aluminium"
diameter = "50 mm"
thickness = "3 mm"
top = "-20 mm"

[base_coil]
inductance = "100 uH"
mean_diameter = "30 mm"
clearance = "0.2 mm"
wire = { gauge = "AWG 30", conductor = { resistivity = "1.8 uohm cm", temperature_coefficient = "0.39 %/K" } }

[tag]
part = { inductance = "2.7 mH", dc_resistance = "11 ohm", diameter = "6 mm", height = "5 mm" }
chip = { load_resistance = "25 kohm", minimum_voltage = "0.2 V", modulated_load_resistance = "5 kohm" }
sensitivity = "40 mV per A/m"
sensitivity_frequency = "125 kHz"

[drive]
bridge = "sine"
source_voltage = "5 V"
resistance = "20 ohm"

[link]
mode = "full-duplex"
tuning = "parallel"
receiver = { minimum_voltage = "1 mV", dynamic_range = "80 dB" }

[map]
height = { from = "6 mm", to = "20 mm", count = 3 }
offset = "3 mm"

[sweep]
tag.part.height = ["4 mm", "5 mm"]
"base_coil.wire.gauge" = ["AWG 30", "AWG 32"]
"""
"""A stock part in full-duplex on a sine source, with keys that no other study here has."""

ROD = (
    HEAD.replace('"small"', '"rod"')
    .replace('core = "none"', 'core = "rod"\nmaterial = "ferrite"\nrod_diameter = "3 mm"\nrod_length = "6 mm"')
    .replace(
        "[drive]",
        """[tag.shield]
material = "copper"
inner_diameter = "12 mm"
wall_thickness = "0.5 mm"
height = "9 mm"
open = "top"
gap = "1 mm"

[drive]""",
    )
    + """
[[solids]]
name = "tub"
shape = "bath"
material = "saline"
diameter = "90 mm"
height = "50 mm"

[sampling]
method = "sobol"
count = 8
seed = 3

[sweep]
"base_coil.turns" = { from = 20, to = 60 }
"base_coil.mean_diameter" = { from = "30 mm", to = "44 mm" }
"""
)
"""A rod in a can that lies in a bath, and a sampled sweep."""

SOURCES = {
    "small": SMALL,
    "stock": STOCK,
    "rod": ROD,
    "bare": BARE,
    **{file.stem: file.read_text(encoding="utf-8") for file in sorted(LIBRARY.glob("*.toml"))},
}
TABLES = {name: tomllib.loads(text) for name, text in SOURCES.items()}


@dataclass(frozen=True, slots=True)
class Mutant:
    """A spoilt file: its number, the study that it was, what was done to it, and its bytes."""

    number: int
    source: str
    changes: tuple[str, ...]
    content: bytes

    def __str__(self) -> str:
        return f"mutant {self.number} of {self.source} ({', '.join(self.changes)})"


def mutant(seed: int, number: int) -> Mutant:
    """The mutant of a number."""
    chance = Random(f"{seed}/{number}")
    source = chance.choice(list(SOURCES))
    text, changes = SOURCES[source], []
    count = chance.choice((1, 1, 1, 2, 2, 4))
    in_tables = sum(chance.random() < 0.8 for _ in range(count))
    if in_tables:
        tables = deepcopy(TABLES[source])
        for _ in range(in_tables):
            change = chance.choice(_TABLE_CHANGES)
            change(tables, chance)
            changes.append(change.__name__)
        text = toml_text(tables)
    content = text.encode()
    for _ in range(count - in_tables):
        spoil = chance.choice(_TEXT_CHANGES)
        content = spoil(content, chance)
        changes.append(spoil.__name__)
    return Mutant(number, source, tuple(changes), content)


# Tables --------------------------------------------------------------------------------------------------------------

Node = dict[str, Any] | list[Any]
Place = tuple[Node, Any]
"""A table or list, and a key or an index of it."""


def _places(node: Any) -> list[Place]:
    """Every place of a tree, that of a table or list among them."""
    keys = node.keys() if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
    return [place for key in keys for place in ((node, key), *_places(node[key]))]


def _some_place(tables: Node, chance: Random) -> Place | None:
    places = _places(tables)
    return chance.choice(places) if places else None


def _some_leaf(tables: Node, chance: Random) -> Place | None:
    leaves = [(node, key) for node, key in _places(tables) if not isinstance(node[key], dict | list)]
    return chance.choice(leaves) if leaves else None


def _some_table(tables: dict[str, Any], chance: Random) -> dict[str, Any]:
    inner = [node[key] for node, key in _places(tables) if isinstance(node[key], dict)]
    return chance.choice([tables, *inner])


UNITS = (
    "mm", "cm", "m", "um", "mil", "in", "kHz", "MHz", "Hz", "mHz", "degC", "K", "uH", "mH", "H", "ohm", "kohm", "Mohm",
    "V", "mV", "A", "mA", "pF", "nF", "F", "s", "ms", "deg", "rad", "dB", "W", "S/m", "ohm m", "T", "dBuA/m", "A/m",
    "A/mm2", "V per A/m", "%/K", "µm", "Ω", "°C", "°", "MM", "mm mm", "mm/mm", "", "²", "mm²", "kg", "''",
)  # fmt: skip
FACTORS = (0.0, -1.0, 1e3, 1e-3, 1e9, 1e-9, 1e30, 1e-30, 1e200, 1e-200, 1e300, 10.0, 0.1, 2.0, 0.5)
ODD = (
    float("nan"), float("inf"), float("-inf"), 0, -1, 1, 2, 1e308, 5e-324, -0.0, 10**18, 10**30, 10**400, 2**63, 0.1,
    True, False, "", " ", "nan mm", "inf", "1e999 mm", "1e-999 mm", "0 mm", "-5 mm", "1e5000 dB", "٣ mm", "５ mm",
    "1_0 mm", "1 mm\n", "\x00", "\x1b[31m", "../../etc", "a" * 5000, "9" * 5000, "9" * 5000 + " mm", "\ud7ff", "💥",
    "e\u0301", "\u202e", "{given}", "%s", "ferrite", "copper", "plate", "heater", "none", "full", "drum", "solid",
    "foil", "shorted spiral", "rings", "gap", "meander", "half-duplex", "full-duplex", "parallel", "AWG 99", "AWG -3",
    "AWG 1e9", "C0G", "X7R", "air", "saline", "water",
)  # fmt: skip
ODD_NODES: tuple[Any, ...] = (
    [], {}, [[]], [{}], {"": ""}, [1, "2 mm", True], {"from": "0 mm", "to": "1 mm", "count": 0},
    {"from": "1 mm", "to": "1 mm", "count": 5}, {"from": "9 mm", "to": "1 mm", "count": 5},
    {"from": "1 mm", "to": "2 mm", "count": 10**12}, {"from": "1 mm", "to": "2 mm", "count": 1.5},
    {"from": "1 mm", "to": "2 mm", "count": 10_000}, {"from": "1 mm", "to": "1e300 mm", "count": 9},
    {"from": 1, "to": 10**40, "count": 9}, {"from": 1, "to": 2, "count": 9}, {"from": "5 mm", "to": "9 V", "count": 3},
    {"from": "1e-300 mm", "to": "3e-300 mm", "count": 3}, {"from": float("nan"), "to": 2, "count": 3},
    {"from": 5, "to": 90, "count": 86}, {"from": "1 mm", "to": "2 mm"}, {"to": "2 mm"}, {"from": [], "to": {}},
    {"conductivity": "1e6 S/m"}, {"relative_permeability": 900}, {"relative_permeability": 1e6, "loss_factor": 10},
    {"conductivity": "0 S/m", "relative_permeability": 0.5}, {"resistivity": "1e-9 ohm m"}, {"capacitance": "1 pF"},
    [["20 degC", 1.0], ["100 degC", 0.0]], [["0 mm", "-40 mm"], ["80 mm", "-40 mm"], ["0 mm", "-40 mm"]],
    ["1 mm"] * 10_001, [[[[[[]]]]]],
)  # fmt: skip


def scaled_little(tables: dict[str, Any], chance: Random) -> None:
    """One number up to three times larger or smaller, as a designer tries."""
    _scale(tables, chance, 3.0 ** chance.uniform(-1, 1))


def scaled_much(tables: dict[str, Any], chance: Random) -> None:
    """One number by a power of ten, its sign turned, or to nothing."""
    _scale(tables, chance, chance.choice(FACTORS))


def scaled_widely(tables: dict[str, Any], chance: Random) -> None:
    """One number by any factor from a hundred-thousandth to a hundred thousand, often still within its bounds."""
    _scale(tables, chance, 10.0 ** chance.uniform(-5, 5))


def scaled_everywhere(tables: dict[str, Any], chance: Random) -> None:
    """Every number of one table by the same factor."""
    table, factor = _some_table(tables, chance), chance.choice((*FACTORS, 10.0 ** chance.uniform(-2, 2)))
    for node, key in _places(table):
        node[key] = _times(node[key], factor)


def _scale(tables: dict[str, Any], chance: Random, factor: float) -> None:
    place = _some_leaf(tables, chance)
    if place is not None:
        place[0][place[1]] = _times(place[0][place[1]], factor)


def _times(value: Any, factor: float) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return round(value * factor) if abs(value) < 10**18 and abs(factor) < 1e100 else -value
    if isinstance(value, float):
        return value * factor
    number, _, unit = value.partition(" ") if isinstance(value, str) else ("", "", "")
    try:
        return f"{float(number) * factor:.6g} {unit}"
    except ValueError:
        return value


def other_unit(tables: dict[str, Any], chance: Random) -> None:
    """A text with another unit, or none."""
    place = _some_leaf(tables, chance)
    if place is not None:
        node, key = place
        number = str(node[key]).partition(" ")[0][:40]
        node[key] = chance.choice((f"{number} {chance.choice(UNITS)}", f"{number}{chance.choice(UNITS)}"))


def odd_value(tables: dict[str, Any], chance: Random) -> None:
    """An odd value in the place of one that was right."""
    place = _some_place(tables, chance)
    if place is not None:
        place[0][place[1]] = chance.choice(ODD)


def odd_node(tables: dict[str, Any], chance: Random) -> None:
    """A table or a list, mostly an odd one, in any place."""
    place = _some_place(tables, chance)
    if place is not None:
        place[0][place[1]] = deepcopy(chance.choice(ODD_NODES))


def text_for_number(tables: dict[str, Any], chance: Random) -> None:
    """A number as a text, and the number of a text without its quotation marks."""
    place = _some_leaf(tables, chance)
    if place is not None:
        node, key = place
        try:
            node[key] = float(node[key].split()[0]) if isinstance(node[key], str) else str(node[key])
        except (ValueError, IndexError):
            node[key] = len(node[key])


def swapped(tables: dict[str, Any], chance: Random) -> None:
    """Two values in each other's place."""
    one, other = _some_leaf(tables, chance), _some_leaf(tables, chance)
    if one is not None and other is not None:
        one[0][one[1]], other[0][other[1]] = other[0][other[1]], one[0][one[1]]


def removed(tables: dict[str, Any], chance: Random) -> None:
    """One key, entry or whole table taken out."""
    place = _some_place(tables, chance)
    if place is not None:
        del place[0][place[1]]


def renamed(tables: dict[str, Any], chance: Random) -> None:
    """One key misspelt, or called as another."""
    table = _some_table(tables, chance)
    if table:
        key = chance.choice(list(table))
        names = [str(key) for node, key in _places(tables) if isinstance(node, dict)]
        worn = (key[:-1], key + key[-1:], key[1:] + key[:1], key.upper(), key.replace("_", "-"), f"{key}.{key}")
        spelt = chance.choice((*worn, "", f"tag.{key}", "a\nb", "☃", "x" * 3000, chance.choice(names)))
        table[spelt] = table.pop(key)


def moved(tables: dict[str, Any], chance: Random) -> None:
    """One value, or a whole table, into another table."""
    place = _some_place(tables, chance)
    if place is not None:
        node, key = place
        value = deepcopy(node[key])
        if chance.random() < 0.5:
            del node[key]
        _some_table(tables, chance)[str(key)] = value


def doubled(tables: dict[str, Any], chance: Random) -> None:
    """Entries of a list given over and over."""
    lists = [node[key] for node, key in _places(tables) if isinstance(node[key], list) and node[key]]
    if lists:
        entries = chance.choice(lists)
        for _ in range(chance.choice((1, 1, 2, 30))):
            entries.insert(chance.randrange(len(entries) + 1), deepcopy(chance.choice(entries)))


def reordered(tables: dict[str, Any], chance: Random) -> None:
    """Entries of a list in another order."""
    lists = [node[key] for node, key in _places(tables) if isinstance(node[key], list) and len(node[key]) > 1]
    if lists:
        chance.shuffle(chance.choice(lists))


def crossed(tables: dict[str, Any], chance: Random) -> None:
    """Part of another study in its place here, or in any place."""
    other = deepcopy(TABLES[chance.choice(list(TABLES))])
    if chance.random() < 0.7:
        mine: Any = tables
        while True:
            key = chance.choice(list(other))
            if (
                isinstance(mine.get(key), dict)
                and isinstance(other[key], dict)
                and other[key]
                and chance.random() < 0.7
            ):
                mine, other = mine[key], other[key]
                continue
            mine[key] = other[key]
            return
    node, key = chance.choice(_places(other))
    _some_table(tables, chance)[str(key)] = node[key]


def swept(tables: dict[str, Any], chance: Random) -> None:
    """One more key swept, over odd values as often as not."""
    paths = [path for path in _paths(tables) if path]
    table = tables.setdefault("sweep", {})
    if isinstance(table, dict) and paths:
        path = chance.choice(paths)
        value = deepcopy(_at(tables, path))
        values = [value, _times(value, 1.5), _times(value, chance.choice(FACTORS)), chance.choice(ODD)]
        ranged = deepcopy(chance.choice(ODD_NODES))
        key = ".".join(str(part) for part in path)
        table[key] = ranged if chance.random() < 0.4 else values[: chance.randint(0, 4)]


def _paths(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    keys = node.keys() if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
    return [path, *(inner for key in keys for inner in _paths(node[key], (*path, key)))]


def _at(node: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        node = node[key]
    return node


def sampled(tables: dict[str, Any], chance: Random) -> None:
    """The sweep sampled, or sampled in another way."""
    table = {"method": chance.choice(("sobol", "latin hypercube")), "count": chance.choice((1, 5, 0, 1000, 10**7))}
    tables["sampling"] = table | ({"seed": chance.choice(ODD)} if chance.random() < 0.3 else {})
    for key, axis in (tables.get("sweep") or {}).items() if isinstance(tables.get("sweep"), dict) else ():
        if isinstance(axis, dict) and chance.random() < 0.8:
            tables["sweep"][key] = {end: value for end, value in axis.items() if end != "count"}


def in_states(tables: dict[str, Any], chance: Random) -> None:
    """Parts at odd temperatures, named well or badly."""
    parts = (
        "layers.heater",
        "base_coil.wire",
        "tag",
        "solids.pan",
        "base_coil.capacitor",
        "layers.0",
        "drive",
        "",
        "a.b",
    )
    warm = ("20 degC", "400 degC", "0 K", "-300 degC", "1999 degC", "20", 20, [], {}, "20 mm")
    state = {chance.choice(parts): chance.choice(warm) for _ in range(chance.randint(0, 3))}
    tables["temperatures"] = {chance.choice(("hot", "a b", "", "-", "☃")): state, "cold": {"tag": chance.choice(warm)}}


_TABLE_CHANGES: tuple[Callable[[dict[str, Any], Random], None], ...] = (
    scaled_little, scaled_little, scaled_widely, scaled_widely, scaled_widely, scaled_much, scaled_everywhere,
    other_unit, odd_value, odd_value, odd_node, text_for_number, swapped, removed, removed, renamed, moved, doubled,
    reordered, crossed, crossed, swept, swept, sampled, in_states,
)  # fmt: skip


# Text ----------------------------------------------------------------------------------------------------------------


def bytes_dropped(content: bytes, chance: Random) -> bytes:
    """A few bytes gone."""
    start = chance.randrange(len(content) + 1)
    return content[:start] + content[start + chance.choice((1, 1, 2, 10, 200)) :]


def bytes_doubled(content: bytes, chance: Random) -> bytes:
    """A few bytes twice."""
    start = chance.randrange(len(content) + 1)
    return content[:start] + content[start : start + chance.choice((1, 1, 5, 100))] + content[start:]


def bytes_swapped(content: bytes, chance: Random) -> bytes:
    """Two neighbours in each other's place."""
    at = chance.randrange(max(1, len(content) - 1))
    return content[:at] + content[at : at + 2][::-1] + content[at + 2 :]


def byte_changed(content: bytes, chance: Random) -> bytes:
    """Another byte, any of the 256."""
    at = chance.randrange(max(1, len(content)))
    return content[:at] + bytes([chance.randrange(256)]) + content[at + 1 :]


def cut_short(content: bytes, chance: Random) -> bytes:
    """The end gone, as of a file half copied."""
    return content[: chance.randrange(len(content) + 1)]


def line_deleted(content: bytes, chance: Random) -> bytes:
    """A line gone."""
    lines = content.splitlines(keepends=True)
    if lines:
        del lines[chance.randrange(len(lines))]
    return b"".join(lines)


def line_elsewhere(content: bytes, chance: Random) -> bytes:
    """A line once more, somewhere."""
    lines = content.splitlines(keepends=True)
    if lines:
        lines.insert(chance.randrange(len(lines)), chance.choice(lines))
    return b"".join(lines)


def mark_dropped(content: bytes, chance: Random) -> bytes:
    """A quotation mark, bracket, brace, comma, dot or equals sign gone."""
    marks = [i for i, byte in enumerate(content) if byte in b"\"[]{}=,.'#"]
    if not marks:
        return content
    at = chance.choice(marks)
    return content[:at] + content[at + 1 :]


def odd_text(content: bytes, chance: Random) -> bytes:
    """Something odd typed in, anywhere or as a line."""
    odd: tuple[bytes, ...] = (
        b"\xef\xbb\xbf", b"\x00", b"\xff\xfe", "é".encode(), "“".encode(), "\u2028".encode(), b"\r", b"\x0c",
        b"\\u0000", b"[[[[" * 1000, b"x = " + b"[" * 5000, b"a" * 100_000, b"# " + b"-" * 100_000,
        b"x = 0x" + b"f" * 20_000,
        b"x = " + b"9" * 5000 + b"\n", b"[sweep]\n", b"[[layers]]\n", b"[tag.part]\n", b"a.b.c.d = 1\n",
        b"turns = 0x" + b"f" * 6000 + b"\n", b".".join([b"a"] * 3000) + b" = 1\n", b"x = 2026-11-25T10:00:00Z\n",
        b"x = 10:00:00\n", b"'''", b'"""', b"'' = 1\n", b"x = {" + b"a.b.c = 1, " * 50 + b"}\n",
        b"x = " + b"{a=" * 400 + b"1" + b"}" * 400 + b"\n", b"x = " + b"[" * 300 + b"]" * 300 + b"\n",
    )  # fmt: skip
    lines = content.splitlines(keepends=True)
    if lines and chance.random() < 0.6:
        lines.insert(chance.randrange(len(lines)), chance.choice(odd))
        return b"".join(lines)
    at = chance.randrange(len(content) + 1)
    return content[:at] + chance.choice(odd) + content[at:]


def other_line_ends(content: bytes, chance: Random) -> bytes:
    """Line ends of another system, a mark of the byte order, or another encoding."""
    ends = content.replace(b"\n", chance.choice((b"\r\n", b"\r", b"\n\n", b" \n", b"\t\r\n")))
    text = content.decode("utf-8", "replace")
    choices = (ends, b"\xef\xbb\xbf" + content, text.encode("utf-16"), text.encode("latin-1", "replace"), ends + ends)
    return chance.choice(choices)


_TEXT_CHANGES: tuple[Callable[[bytes, Random], bytes], ...] = (
    bytes_dropped, bytes_doubled, bytes_swapped, byte_changed, byte_changed, cut_short, line_deleted, line_elsewhere,
    mark_dropped, mark_dropped, odd_text, odd_text, other_line_ends,
)  # fmt: skip
