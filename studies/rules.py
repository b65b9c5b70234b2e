"""Which keys go together. Looks only at which keys are given, so a fault in a value hides none of these."""

from collections.abc import Iterator
from difflib import get_close_matches

from studies.faults import Finding, KeyPath
from studies.keypaths import Raw, value_at
from studies.schema_faults import allowed_at
from studies.vessel_rules import vessel_findings

Pair = tuple[str, str]

EXACTLY_ONE: tuple[tuple[KeyPath, Pair], ...] = (
    (("base_coil",), ("turns", "inductance")),
    (("base_coil", "wire"), ("diameter", "gauge")),
    (("tag", "wire"), ("diameter", "gauge")),
)
CAPACITORS: tuple[KeyPath, ...] = (("base_coil", "capacitor"), ("tag", "capacitor"))
CAPACITOR_WAYS = ("capacitance", "parts", "choose")
AT_MOST_ONE: tuple[Pair, ...] = (("conductivity", "resistivity"), ("loss_factor", "relative_permeability_loss"))
NEEDED_BY: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("temperature_coefficient", ("conductivity", "resistivity")),
    ("curie_temperature", ("relative_permeability",)),
    ("permeability_curve", ("relative_permeability",)),
    ("saturation_flux_density", ("relative_permeability",)),
)
"""Constants of a material that say how another one moves with temperature or field, and that other."""
RIBBON_KEYS = ("ribbon_width", "pitch", "rated_power", "rated_voltage")
JOINED_KEYS = ("termination",)
_NEEDED = {"solid": ("material", "thickness"), "gap": ("thickness",), "foil": ("material", "thickness")}
_RIBBONS = ("meander", "open spiral", "shorted spiral", "rings")
_STANDING = ("bottom", "well_diameter", "well_depth")
SHAPE_KEYS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "": ((), ()),
    "disc": (("diameter", "thickness", "top"), ("inner_diameter",)),
    "pan": (("outer_diameter", "height", "wall_thickness", "bottom"), ()),
    "heat block": (("outer_diameter", "height"), (*_STANDING, "hole_diameter")),
    "bath": (("diameter", "height"), (*_STANDING, "round_bottom")),
}
"""Sizes that each shape of a solid needs, and those that it may have; "" is an outline."""

_ALL_SHAPE_KEYS = tuple({key: None for needed, optional in SHAPE_KEYS.values() for key in (*needed, *optional)})
MAGNET_KEYS: dict[str, tuple[str, ...]] = {"block": ("size",), "cylinder": ("diameter", "height")}
CORE_KEYS = {
    "drum": ("centre_post_diameter", "centre_post_height", "flange_diameter", "flange_thickness"),
    "rod": ("rod_diameter", "rod_length"),
    "none": (),
}
WINDING_KEYS = ("turns", "winding_inner_diameter", "winding_outer_diameter", "winding_length")
_ALL_CORE_KEYS = tuple(key for keys in CORE_KEYS.values() for key in keys)
_CONSTRUCTION_KEYS = (*WINDING_KEYS, "core", "material", "wire", "series_resistance", *_ALL_CORE_KEYS)


def rival(path: KeyPath) -> KeyPath | None:
    """The key that may not stand beside ``path``, where there is one.

    A value set on the command line or swept takes the place of its rival in the file.
    """
    pairs = (*EXACTLY_ONE, (("drive",), ("supply", "source_voltage")))
    for table, pair in pairs:
        if path[:-1] == table and path[-1] in pair:
            return (*table, pair[1 - pair.index(str(path[-1]))])
    return None


def rule_findings(raw: Raw, swept: frozenset[KeyPath] = frozenset()) -> tuple[Finding, ...]:
    """Keys that exclude each other, need each other, or are missing because of what another says.

    Parameters
    ----------
    raw : dict
        The file without its ``sweep``.
    swept : frozenset of KeyPath
        Swept keys: where a kind or a mode is swept, keys that serve only some of its values may stand.
    """
    return tuple(
        finding
        for rule in (
            _pairs,
            _together,
            _materials,
            _layers,
            _solids,
            _under,
            _names,
            _tag,
            _magnets,
            _drive,
            _link,
            _capacitors,
            vessel_findings,
        )
        for finding in rule(raw, swept)
    )


def _table(raw: Raw, path: KeyPath) -> Raw | None:
    value = value_at(raw, path)
    return value if isinstance(value, dict) else None


def _entries(raw: Raw, key: str) -> Iterator[tuple[KeyPath, Raw]]:
    entries = raw.get(key)
    for i, entry in enumerate(entries if isinstance(entries, list) else []):
        if isinstance(entry, dict):
            yield (key, i), entry


def _pairs(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    for path, (one, other) in EXACTLY_ONE:
        table = _table(raw, path)
        if table is not None:
            yield from _one_of(table, path, one, other)


def _one_of(table: Raw, path: KeyPath, one: str, other: str) -> Iterator[Finding]:
    given = [key for key in (one, other) if key in table]
    if len(given) == 2:
        yield Finding((*path, other), f"both {one} and {other} are given", "exactly one of the two")
    elif not given:
        near = [key for key in table if get_close_matches(key, (one, other), 1, 0.8)]
        if not near:  # a misspelt key is told of already
            yield Finding(path, f"neither {one} nor {other} is given", "exactly one of the two")


def _together(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    pairs = [(("base_coil",), "radial_build", "winding_length")]
    groups: list[tuple[KeyPath, str, str]] = [*pairs]
    groups += [(path, "rated_power", "rated_voltage") for path, _ in _entries(raw, "layers")]
    for path, one, other in groups:
        table = _table(raw, path) or {}
        if (one in table) != (other in table):
            there, missing = (one, other) if one in table else (other, one)
            yield Finding((*path, there), f"{there} is given without {missing}", "both or neither")


def _materials(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    places = [(*path, "material") for key in ("layers", "solids", "magnets") for path, _ in _entries(raw, key)]
    places += [
        ("tag", "material"),
        ("tag", "part", "material"),
        ("tag", "shield", "material"),
        ("base_coil", "wire", "conductor"),
    ]
    for path in (*places, ("tag", "wire", "conductor")):
        table = _table(raw, path)
        if table is None:
            continue
        if not table:
            yield Finding(path, "a table without constants", allowed_at(path))
        for one, other in AT_MOST_ONE:
            if one in table and other in table:
                yield Finding((*path, other), f"both {one} and {other} are given", "at most one of the two")
        for key, wanted in NEEDED_BY:
            if key in table and not set(wanted) & set(table):
                yield Finding((*path, key), f"is given without {' or '.join(wanted)}", "both or neither")
        if path[-1] == "conductor" and table and not {"conductivity", "resistivity"} & set(table):
            yield Finding(path, "a conductor without conductivity or resistivity", "exactly one of the two")


def _layers(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    for path, layer in _entries(raw, "layers"):
        kind = layer.get("kind", "solid")
        if kind not in (*_NEEDED, *_RIBBONS) or not isinstance(kind, str):
            continue
        for key in _NEEDED.get(kind, ()):
            if key not in layer:
                yield Finding((*path, key), f"is missing: a layer of kind {kind} needs it", allowed_at((*path, key)))
        if (*path, "kind") in swept:
            continue
        out_of_place = [*(() if kind in _RIBBONS else RIBBON_KEYS), *(() if kind == "shorted spiral" else JOINED_KEYS)]
        for key in (*out_of_place, *(("material", "temperature") if kind == "gap" else ())):
            if key in layer:
                yield Finding((*path, key), f"{key} does not belong to a layer of kind {kind}", _kinds_with(key))


def _kinds_with(key: str) -> str:
    if key in RIBBON_KEYS:
        return "one of the kinds of ribbon (meander, open spiral, shorted spiral, rings) with it, or no such key"
    if key in JOINED_KEYS:
        return "kind shorted spiral with it, or no such key"
    return "another kind, or no such key"


def _solids(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """A body by its corners, or by a shape with the sizes that belong to it."""
    for path, solid in _entries(raw, "solids"):
        yield from _one_of(solid, path, "outline", "shape")
        given = "" if "outline" in solid else solid.get("shape")
        shape = given if isinstance(given, str) else None  # the schema tells of any other kind of value
        needed, optional = SHAPE_KEYS.get(shape, ((), ())) if shape is not None else ((), ())
        for key in needed:
            if key not in solid:
                yield Finding((*path, key), f"is missing: a {shape} needs it", allowed_at((*path, key)))
        if shape in SHAPE_KEYS and (*path, "shape") not in swept:
            for key in [key for key in solid if key in _ALL_SHAPE_KEYS and key not in (*needed, *optional)]:
                what = f"a {shape}" if shape else "an outline"
                allowed = f"{', '.join((*needed, *optional))}" if shape else "no size beside an outline"
                yield Finding((*path, key), f"{key} does not belong to {what}", allowed)
        if "well_depth" in solid and "well_diameter" not in solid:
            yield Finding((*path, "well_depth"), "well_depth is given without well_diameter", "both or neither")


def _under(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """``base_coil.under`` names a layer."""
    coil = _table(raw, ("base_coil",)) or {}
    under = coil.get("under")
    names = [str(layer.get("name")) for _, layer in _entries(raw, "layers")]
    if isinstance(under, str) and under not in names:
        near = get_close_matches(under, names, 1, 0.5)
        allowed = f"one of {', '.join(names)}" if names else "no such key where there are no layers"
        hint = f'"{near[0]}"' if near else ""
        yield Finding(("base_coil", "under"), f'no layer is called "{under[:60]}"', allowed, hint)


def _names(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """Names of layers and solids, of vessels, and of magnets are different."""
    for groups in (("layers", "solids"), ("vessels",), ("magnets",)):
        seen: dict[str, KeyPath] = {}
        for path, entry in (pair for group in groups for pair in _entries(raw, group)):
            name = entry.get("name")
            if isinstance(name, str) and name in seen:
                yield Finding((*path, "name"), f'"{name[:60]}" is the name of another', "a name of its own")
            elif isinstance(name, str):
                seen[name] = path


def _tag(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    tag = _table(raw, ("tag",))
    if tag is None:
        return
    construction = [key for key in tag if key in _CONSTRUCTION_KEYS]
    if "part" in tag:
        if construction:
            given = f"both part and {construction[0]}, a key of a construction, are given"
            yield Finding(("tag", construction[0]), given, "a stock part or a construction, exactly one way")
    elif not construction:
        allowed = "part = { ... }, or turns, core and its sizes"
        yield Finding(("tag",), "neither part nor a construction is given", allowed)
    else:
        yield from _construction(tag, ("tag", "core") in swept)
    shield = _table(raw, ("tag", "shield")) or {}
    if "gap" in shield and shield.get("open") in ("both", "none") and ("tag", "shield", "open") not in swept:
        given = f'gap does not belong to a shield with open = "{shield["open"]}": the tag lies in its middle'
        yield Finding(("tag", "shield", "gap"), given, 'open = "top" or "bottom" with it, or no such key')
    if "sensitivity_frequency" in tag and "sensitivity" not in tag:
        yield Finding(("tag", "sensitivity_frequency"), "is given without sensitivity", "both or neither")


def _construction(tag: Raw, core_swept: bool) -> Iterator[Finding]:
    core = tag.get("core")
    core = core if isinstance(core, str) else ""  # the schema tells of any other kind of value
    if "core" not in tag:
        yield Finding(("tag", "core"), "is missing", allowed_at(("tag", "core")))
    wanted = CORE_KEYS.get(core, ())
    for key in (*WINDING_KEYS, *wanted):
        if key not in tag:
            yield Finding(("tag", key), "is missing: the tag's construction needs it", allowed_at(("tag", key)))
    if not {"wire", "series_resistance"} & set(tag):
        yield Finding(("tag",), "neither wire nor series_resistance is given", "the winding's wire, or its resistance")
    if core in CORE_KEYS and not core_swept:
        strange = [key for key in (*_ALL_CORE_KEYS, "material") if key in tag and key not in wanted]
        for key in strange:
            if key != "material" or core == "none":
                yield Finding(("tag", key), f'{key} does not belong to core "{core}"', "another core, or no such key")


def _magnets(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """Sizes by the shape, and what a magnet is there for: its eddy currents (material), its steady field, or both."""
    for path, magnet in _entries(raw, "magnets"):
        shape, carrier = magnet.get("shape", "block"), magnet.get("fixed_to", "tag")
        if isinstance(shape, str) and shape in MAGNET_KEYS:
            for key in MAGNET_KEYS[shape]:
                if key not in magnet:
                    yield Finding((*path, key), f"is missing: a {shape} needs it", allowed_at((*path, key)))
            others = (key for keys in MAGNET_KEYS.values() for key in keys if key not in MAGNET_KEYS[shape])
            for key in others if (*path, "shape") not in swept else ():
                if key in magnet:
                    allowed = f"{', '.join(MAGNET_KEYS[shape])} with it, or another shape"
                    yield Finding((*path, key), f"{key} does not belong to a {shape}", allowed)
        if "remanence" not in magnet:
            yield from _without_remanence(path, magnet, carrier)
        if carrier == "drive" and (*path, "fixed_to") not in swept:
            for key in ("material", "temperature"):
                if key in magnet:
                    given = f"{key} does not belong to a magnet of the drive, of which the steady field alone counts"
                    yield Finding((*path, key), given, 'fixed_to = "tag" with it, or no such key')


def _without_remanence(path: KeyPath, magnet: Raw, carrier: object) -> Iterator[Finding]:
    if carrier == "drive":
        given = "is missing: a magnet of the drive acts by its steady field alone"
        yield Finding((*path, "remanence"), given, allowed_at((*path, "remanence")))
    elif "material" not in magnet:
        given = "is missing: without it a magnet needs a remanence"
        yield Finding((*path, "material"), given, allowed_at((*path, "material")))
    if "direction" in magnet:
        yield Finding((*path, "direction"), "is given without remanence", "both or neither")


def _drive(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    drive = _table(raw, ("drive",))
    if drive is None:
        return
    wanted, other = ("source_voltage", "supply") if drive.get("bridge") == "sine" else ("supply", "source_voltage")
    kind = "a sine source" if wanted == "source_voltage" else "a full or half bridge"
    if wanted in drive and other in drive:
        yield Finding(("drive", other), "both supply and source_voltage are given", "exactly one of the two")
    elif other in drive:
        yield Finding(("drive", other), f"{kind} has no {other}", f"{wanted} for {kind}", wanted)
    elif wanted not in drive:
        yield Finding(("drive", wanted), f"is missing: {kind} needs it", allowed_at(("drive", wanted)))


def _link(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    link = _table(raw, ("link",)) or {}
    drive, either = _table(raw, ("drive",)) or {}, (("link", "tuning"), ("drive", "when_off"))
    if drive.get("when_off") == "open" and link.get("tuning", "series") == "series" and not swept & set(either):
        given = "open, with a series-tuned base coil: its current has no way left"
        yield Finding(("drive", "when_off"), given, 'shorted, or link.tuning = "parallel"')
    if link.get("mode") == "full-duplex" and "storage" in link and ("link", "mode") not in swept:
        yield Finding(("link", "storage"), "a full-duplex tag has no storage", 'mode = "half-duplex", or no storage')


def _capacitors(raw: Raw, swept: frozenset[KeyPath]) -> Iterator[Finding]:
    """A capacitor by one of three ways; a series only where something is chosen from it."""
    for path in CAPACITORS:
        table = _table(raw, path) or {}
        ways = [key for key in CAPACITOR_WAYS if key in table]
        if len(ways) > 1:
            yield Finding((*path, ways[1]), f"both {ways[0]} and {ways[1]} are given", "one of the three ways")
        if "series" in table and "choose" not in table:
            yield Finding((*path, "series"), "series is given without choose", "both or neither")


RULES = (
    _pairs, _together, _materials, _layers, _solids, _under, _names, _tag, _magnets, _drive, _link, _capacitors,
)  # fmt: skip
