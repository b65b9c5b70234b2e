"""Sweeps: the product of all axes, and what is wrong with single values."""

import pickle
import tomllib
from collections.abc import Callable, Iterator
from datetime import date

import pytest

from geometries.errors import GeometryError
from studies import sharing, sweep
from studies.assembly import Particulars, assembled
from studies.assembly_tag import Extent, tag_extent
from studies.keypaths import replaced
from studies.study import Study
from studies.sweep import BaseDesign, checked_axis, read_axes

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]


def swept(first_look: str, *axes: str) -> str:
    return first_look + "[sweep]\n" + "\n".join(axes) + "\n"


def test_product_with_the_last_axis_fastest(read: Reader, full: str) -> None:
    study = read(full)
    assert [key for key, _ in study.axes] == [
        "base_coil.mean_diameter", "base_coil.turns", "base_coil.under",
    ]  # fmt: skip
    assert study.axes[0][1] == pytest.approx([0.01 * i for i in range(2, 9)])
    assert study.axes[1:] == (
        ("base_coil.turns", (40, 64, 90)),
        ("base_coil.under", ("plate", "heater")),
    )
    assert study.count == 42
    candidates = list(study.candidates())
    assert [candidate.design for candidate in candidates[:2]] == ["c0001", "c0002"]
    assert candidates[-1].design == "c0042"
    assert candidates[0].swept == (
        ("base_coil.mean_diameter", 20e-3),
        ("base_coil.turns", 40),
        ("base_coil.under", "plate"),
    )
    assert candidates[1].swept[2] == ("base_coil.under", "heater")
    assert candidates[2].swept[1] == ("base_coil.turns", 64)
    for index, candidate in enumerate(candidates):
        coil = candidate.coil
        assert (coil.mean_diameter, coil.turns, coil.under) == tuple(value for _, value in candidate.swept)
        assert study.swept(index) == candidate.swept
        assert study.design_name(index) == candidate.design


def test_names_are_padded_to_the_count(read: Reader, first_look: str) -> None:
    axes = [
        '"drive.supply" = { from = "1 V", to = "9 V", count = 25 }',
        '"drive.resistance" = { from = "1 ohm", to = "9 ohm", count = 20 }',
        '"base_coil.mean_diameter" = { from = "40 mm", to = "60 mm", count = 24 }',
    ]
    study = read(swept(first_look, *axes))
    assert study.count == 12000
    assert study.design_name(0) == "c00001"
    assert study.candidate(11999).design == "c12000"


def test_no_sweep_is_one_candidate(read: Reader, first_look: str) -> None:
    study = read(first_look)
    assert (study.count, study.axes) == (1, ())
    assert study.candidate(0).design == "c0001"
    assert study.candidate(0).stack == study.base.stack
    with pytest.raises(IndexError):
        study.candidate(1)
    with pytest.raises(IndexError):
        study.candidate(-1)


def test_impossible_combinations_fail_alone(read: Reader, full: str) -> None:
    study = read(full.replace("[40, 64, 90]", "[40, 64, 300]"))
    study.candidate(0)
    with pytest.raises(GeometryError, match="300 turns of wire") as caught:
        study.candidate(4)
    assert caught.value.key == "base_coil.turns"
    overlapping = read(
        full.replace('"base_coil.under" = ["plate", "heater"]', '"layers.plate.thickness" = ["4 mm", "37 mm"]')
    )
    overlapping.candidate(0)
    with pytest.raises(GeometryError, match="overlaps"):
        overlapping.candidate(1)


def test_every_sort_of_key_can_be_swept(read: Reader, bare: str) -> None:
    for axis, values in {
        'layers.heater.temperature = ["20 degC", "400 degC"]': (20.0, 400.0),
        'layers.1.pitch = ["4 mm", "5 mm"]': (4e-3, 5e-3),
        'layers.heater.kind = ["meander", "open spiral", "foil"]': ("meander", "open spiral", "foil"),
        'layers.heater.material = ["austenitic steel", { conductivity = "1 MS/m" }]': (
            "austenitic steel",
            '{ conductivity = "1 MS/m" }',
        ),
        'link.mode = ["half-duplex", "full-duplex"]': ("half-duplex", "full-duplex"),
        'require.at_least.margin = ["0 dB", "3 dB"]': (0.0, 3.0),
        'study.frequency = ["125 kHz", "134.2 kHz"]': (125e3, 134.2e3),
        "study.accuracy = [1e-3, 1e-2]": (1e-3, 1e-2),
    }.items():
        key = axis.split(" = ")[0]
        study = read(bare[: bare.index("[sweep]")] + f'[sweep]\n"{key}" = {axis.split(" = ", 1)[1]}\n')
        assert study.axes == ((key, values),)
        assert len(list(study.candidates())) == len(values)


def test_dotted_keys_without_quotation_marks(read: Reader, first_look: str) -> None:
    study = read(swept(first_look, 'base_coil.mean_diameter = { from = "40 mm", to = "50 mm", count = 3 }'))
    assert study.axes == (("base_coil.mean_diameter", (0.04, 0.045, 0.05)),)


def test_swept_key_that_the_file_leaves_open(read: Reader, full: str) -> None:
    study = read(full.replace("\nturns = 64", "\n"))
    assert study.base.coil.turns == 40


def test_swept_key_takes_the_place_of_its_rival(read: Reader, first_look: str) -> None:
    study = read(swept(first_look, '"base_coil.turns" = [60, 70]'))
    assert (study.base.coil.turns, study.base.coil.inductance) == (None, 390e-6)
    assert [(c.coil.turns, c.coil.inductance) for c in study.candidates()] == [(60, None), (70, None)]


@pytest.mark.parametrize(
    ("axis", "told"),
    [
        ('"base_coil.turn" = [40, 50]', 'sweep."base_coil.turn": is not a key known here; one of turns,'),
        ('"bse_coil.turns" = [40, 50]', 'sweep."bse_coil.turns": bse_coil: is not a key known here'),
        ('"base_coil.mean_diameter" = ["40 mm", "50"]', 'sweep."base_coil.mean_diameter"[1]: "50" has no unit'),
        ('"base_coil.mean_diameter" = ["0 mm", "50 mm"]', 'sweep."base_coil.mean_diameter"[0]: "0 mm" is zero'),
        ('"base_coil.mean_diameter" = ["40 mm", "4 cm"]', 'sweep."base_coil.mean_diameter"[1]: 4 cm comes twice'),
        ('"base_coil.mean_diameter" = [40, 50]', 'sweep."base_coil.mean_diameter"[0]: 40 has no unit'),
        ('"base_coil.mean_diameter" = "40 mm"', 'sweep."base_coil.mean_diameter": a text, not several values'),
        ('"base_coil.mean_diameter" = []', 'sweep."base_coil.mean_diameter": a list of 0 values'),
        ('"base_coil.mean_diameter" = { from = "4 mm", to = "40 mm" }', "a range without count"),
        ('"base_coil.turns" = { from = 40, to = 41, count = 3 }', 'sweep."base_coil.turns"[1]: 40.5 is not a whole'),
        ('"base_coil.under" = ["plate", "roof"]', 'sweep."base_coil.under"[1]: no layer is called "roof"'),
        ('"layers.roof.thickness" = ["1 mm"]', 'sweep."layers.roof.thickness": layers has no roof'),
        (
            '"layers.plate.material" = ["mica", "mics"]',
            'sweep."layers.plate.material"[1]: no material is called "mics"',
        ),
        (
            '"layers.heater.kind" = ["meander", "gap"]',
            'sweep."layers.heater.kind"[1]: layers.heater.thickness: is missing: a layer of kind gap needs it',
        ),
        ('"layers.heater.kind" = ["meander", "rigns"]', 'sweep."layers.heater.kind"[1]: "rigns" is not known here'),
        ('"study.frequency" = ["1 Hz", "134.2 kHz"]', 'sweep."study.frequency"[0]: "1 Hz" is out of bounds'),
        ('"map.height" = [["5 mm"]]', 'sweep."map.height": map cannot be swept: one grid'),
        ('"study.name" = ["a", "b"]', 'sweep."study.name": study.name cannot be swept'),
        ('"base_coil..turns" = [1]', '"base_coil..turns" is no key path'),
        ('"layers.1.pitch" = ["4 mm"]\n"layers.heater.pitch" = ["4 mm"]', "sweep the same thing"),
        ('"base_coil.turns" = [60]\n"base_coil.inductance" = ["1 uH"]', "sweep the same thing"),
        ('"drive.bridge" = ["half", "sine"]', 'sweep."drive.bridge"[1]: drive.supply: a sine source has no supply'),
    ],
)
def test_faults_of_values(faults: FaultLister, first_look: str, axis: str, told: str) -> None:
    lines = faults(swept(first_look, axis))
    assert any(told in line for line in lines), lines
    first = first_look.count("\n") + 2
    assert int(lines[0].split(":")[1]) in (first, first + 1)
    assert len(lines) <= 2


def test_an_unknown_key_is_told_once(faults: FaultLister, first_look: str) -> None:
    assert len(faults(swept(first_look, '"base_coil.turn" = [40, 50, 60]'))) == 1


def test_faults_of_base_and_sweep_are_told_together(faults: FaultLister, full: str) -> None:
    told = faults(full.replace('"44 mm"', "44").replace("[40, 64, 90]", "[40, 0, 90]"))
    assert len(told) == 2
    assert "base_coil.mean_diameter: 44 has no unit" in told[0]
    assert 'sweep."base_coil.turns"[1]: 0 is out of bounds' in told[1]


def test_too_many_designs(faults: FaultLister, first_look: str) -> None:
    axes = [
        '"drive.supply" = { from = "1 V", to = "9 V", count = 200 }',
        '"drive.resistance" = { from = "1 ohm", to = "9 ohm", count = 200 }',
        '"tag.chip.load_resistance" = { from = "9 kohm", to = "10 kohm", count = 200 }',
    ]
    (told,) = faults(swept(first_look, *axes))
    assert "sweep: the product of all lists is 8000000 designs; at most 1000000" in told


def test_studies_travel_between_processes(read: Reader, full: str) -> None:
    study = read(full)
    again = pickle.loads(pickle.dumps(study))
    assert again.candidate(5) == study.candidate(5)


ODD_VALUES = [
    [], {}, [[]], [{}], {"a": 1}, {"from": 1, "to": 2, "count": 3}, "", "x" * 500, float("nan"), float("-inf"), 10**400,
    -5, 0, True, date(2020, 1, 1), "1e999 mm", "0.0001 mm", "9 m", "-30 mm", "nan", "\0", "foil", "rod", "gap", "none",
    "full-duplex", "sine", "mica", "2000 degC", "-200 degC", ["1 mm", "2 mm"], {"relative_permeability": 5},
]  # fmt: skip


def leaves(value: object, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    entries = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, part in entries:
        yield (*path, key)
        yield from leaves(part, (*path, key))


@pytest.mark.slow
def test_no_odd_value_anywhere_brings_down_the_reader(full: str) -> None:
    """Any value in the place of any other gives a candidate or a finding, never another exception."""
    raw = tomllib.loads(full)
    del raw["sweep"], raw["temperatures"]
    accepted = 0
    for path in leaves(raw):
        for value in ODD_VALUES:
            candidate, findings = assembled(replaced(raw, path, value), Particulars())
            assert (candidate is None) == bool(findings)
            accepted += candidate is not None
    assert accepted > 50  # a gap for a layer, -5 dB for a margin and the like: not everything is refused


RING = """
[[solids]]
name = "ring"
shape = "disc"
material = "copper"
inner_diameter = "24 mm"
diameter = "60 mm"
thickness = "5 mm"
top = "10 mm"

[map]
offset = "0 mm"
"""
"""A ring through which only tags up to 24 mm across go."""


@pytest.mark.parametrize(
    ("key", "sizes"),
    [
        ("tag.part.diameter", [4, 16, 60, 20, 30, 40, 50, 10]),
        ("tag.part.diameter", [30, 40, 50]),
        ("tag.part.height", [4, 16, 60, 20]),
        ("tag.part.inductance", []),
        ("base_coil.mean_diameter", [30, 40]),
    ],
)
def test_the_largest_tag_is_the_largest_of_those_that_can_be_built(first_look: str, key: str, sizes: list[int]) -> None:
    raw = tomllib.loads(first_look + RING)
    values = [f"{size} mm" for size in sizes] or ["1 mH", "2 mH"]
    (axis,), _ = read_axes({key: values}, raw)
    particulars = Particulars(swept_paths=frozenset({axis.path}))
    candidates = [assembled(sweep.with_value(raw, axis.path, value), particulars)[0] for value in values]
    built = [tag_extent(candidate.tag) for candidate in candidates if candidate is not None]
    expected = (
        Extent(*(max(getattr(one, name) for one in built) for name in ("radius", "half_height"))) if built else None
    )
    base, findings = assembled(raw, particulars)
    assert base is not None
    found = checked_axis(axis, BaseDesign(raw, raw, findings, particulars)).largest_tag
    own = tag_extent(base.tag)  # counts in any case
    assert (own if found is None else own.joined(found)) == (own if expected is None else own.joined(expected))


@pytest.mark.slow
@pytest.mark.parametrize("key", ["drive.resistance", "tag.part.height"])
def test_of_ten_thousand_values_each_is_read_and_few_are_built(
    read: Reader, faults: FaultLister, first_look: str, monkeypatch: pytest.MonkeyPatch, key: str
) -> None:
    unit = "ohm" if key.startswith("drive") else "mm"
    values = [f"{4 + i / 1e4:.4f} {unit}" for i in range(10_000)]
    built = []

    def counted(*given):  # type: ignore[no-untyped-def]
        built.append(given)
        return assembled(*given)

    monkeypatch.setattr(sweep, "assembled", counted)
    monkeypatch.setattr("studies.assembly.assembled", counted)
    assert read(swept(first_look, f'"{key}" = {values}'.replace("'", '"'))).count == 10_000
    assert len(built) <= 2 * (sweep.TAGS_BUILT + 1) + sharing.TRIED + 2
    values[4999] = "5 V"
    (told,) = faults(swept(first_look, f'"{key}" = {values}'.replace("'", '"')))
    assert f'sweep."{key}"[4999]: "5 V" is a voltage' in told
