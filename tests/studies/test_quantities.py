"""Numbers with their unit."""

from itertools import pairwise
from math import isclose

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studies.quantities import QUANTITIES, QuantityError, bare_number, quantity_text, read_quantity, spread_range

UNITS = [(quantity, unit) for quantity, units in QUANTITIES.items() for unit in units]
LINEAR = [(quantity, unit) for quantity, unit in UNITS if not QUANTITIES[quantity][unit].logarithmic]


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("30 mm", "length", 30e-3),
        ("0.30mm", "length", 0.0003),
        ("20 mil", "length", 508e-6),
        ("1 in", "length", 25.4e-3),
        ("−40 mm", "length", -40e-3),
        ("134.2 kHz", "frequency", 134200.0),
        ("350 degC", "temperature", 350.0),
        ("350 °C", "temperature", 350.0),
        ("300 K", "temperature", 26.85),
        ("390 uH", "inductance", 390e-6),
        ("390 µH", "inductance", 390e-6),
        ("390 μH", "inductance", 390e-6),
        ("25 kΩ", "resistance", 25e3),
        ("150 nF", "capacitance", 150e-9),
        ("35 ms", "time", 35e-3),
        ("45 mV per A/m", "sensitivity", 45e-3),
        ("1.09 uohm·m", "resistivity", 1.09e-6),
        ("109 uohm cm", "resistivity", 1.09e-6),
        ("1.09 ohm mm²/m", "resistivity", 1.09e-6),
        ("5 A/mm²", "current density", 5e6),
        ("1e6 S/m", "conductivity", 1e6),
        ("180 deg", "angle", 3.141592653589793),
        ("-3 dB", "level", -3.0),
    ],
)
def test_reads(text: str, quantity: str, value: float) -> None:
    assert read_quantity(text, quantity) == value


def test_field_level() -> None:
    # 20 dB is a factor of ten in field: 66 dBµA/m = 10^3.3 µA/m.
    assert read_quantity("66 dBuA/m", "field") == pytest.approx(1.99526e-3, rel=1e-5, abs=0.0)
    assert read_quantity("0 dBuA/m", "field") == 1e-6


@pytest.mark.parametrize(
    ("given", "quantity", "clause", "hint"),
    [
        (30, "length", "30 has no unit", '"30 mm"'),
        ("30", "length", '"30" has no unit', '"30 mm"'),
        ("30 ohm", "length", '"30 ohm" is a resistance', ""),
        ("134.2 mHz", "frequency", '"mHz" in "134.2 mHz" is no unit known here', '"134.2 MHz"'),
        ("134.2 khz", "frequency", '"khz" in "134.2 khz" is no unit known here', '"134.2 kHz"'),
        ("30 MM", "length", '"MM" in "30 MM" is no unit known here', '"30 mm"'),
        ("0,25 mm", "length", "has a decimal comma", '"0.25 mm"'),
        ("nan mm", "length", "is not a finite number", ""),
        ("inf mm", "length", "is not a finite number", ""),
        ("1e999 mm", "length", "is not a finite number", ""),
        ("9999 dBuA/m", "field", "is not a finite number", ""),
        (float("nan"), "length", "nan is not a finite number", ""),
        (float("inf"), "length", "inf is not a finite number", ""),
        ("", "length", "is not a finite number with a unit", ""),
        ("mm", "length", "is not a finite number with a unit", ""),
        ("1_000 mm", "length", '"_000 mm"', ""),
        (True, "length", "true or false where a text with a unit belongs", ""),
        ([], "length", "a list where", ""),
        ("9" * 500, "length", "is not a finite number with a unit", ""),
    ],
)
def test_refuses(given: object, quantity: str, clause: str, hint: str) -> None:
    with pytest.raises(QuantityError) as caught:
        read_quantity(given, quantity)
    assert clause in caught.value.given
    assert caught.value.hint == hint
    assert quantity in caught.value.allowed or "point" in caught.value.allowed


@given(st.sampled_from(UNITS), st.floats(-1e3, 1e3))
def test_every_unit_is_read_only_as_its_own_quantity(unit: tuple[str, str], number: float) -> None:
    quantity, spelling = unit
    text = f"{number!r} {spelling}"
    for other in QUANTITIES:
        if other == quantity:
            read_quantity(text, other)
        else:
            with pytest.raises(QuantityError):
                read_quantity(text, other)


@given(st.sampled_from(LINEAR), st.floats(1e-9, 1e9))
def test_in_si_and_back(unit: tuple[str, str], number: float) -> None:
    quantity, spelling = unit
    value = read_quantity(f"{number!r} {spelling}", quantity)
    back = QUANTITIES[quantity][spelling].from_si(value)
    # A kelvin is taken off 273.15: what is left of a small number is rounded there.
    assert isclose(back, number, rel_tol=1e-12, abs_tol=1e-12 if spelling != "K" else 1e-9)


@given(st.sampled_from(sorted(QUANTITIES)), st.floats(1e-9, 1e9))
def test_written_quantities_are_read_back(quantity: str, value: float) -> None:
    assert isclose(read_quantity(quantity_text(value, quantity), quantity), value, rel_tol=1e-5, abs_tol=1e-12)


@given(st.sampled_from(UNITS), st.integers(0, 2))
def test_other_case_is_never_taken_silently(unit: tuple[str, str], way: int) -> None:
    quantity, spelling = unit
    changed = (spelling.upper(), spelling.lower(), spelling.swapcase())[way]
    if changed in QUANTITIES[quantity]:  # mohm and Mohm are both units: each is itself
        assert read_quantity(f"1 {changed}", quantity) == QUANTITIES[quantity][changed].in_si(1)  # type: ignore[arg-type]
    else:
        with pytest.raises(QuantityError):
            read_quantity(f"1 {changed}", quantity)


def test_range_of_texts_keeps_the_decimals_of_its_unit() -> None:
    assert spread_range({"from": "20 mm", "to": "80 mm", "count": 4}) == ["20 mm", "40 mm", "60 mm", "80 mm"]
    assert spread_range({"from": "20 mm", "to": "8 cm", "count": 3}) == ["20 mm", "50 mm", "80 mm"]
    assert spread_range({"from": "0 degC", "to": "300 K", "count": 2}) == ["0 degC", "26.85 degC"]
    assert spread_range({"from": "80 mm", "to": "20 mm", "count": 2}) == ["80 mm", "20 mm"]


def test_range_of_numbers_stays_whole_where_it_is() -> None:
    values = spread_range({"from": 40, "to": 90, "count": 3})
    assert values == [40, 65, 90]
    assert all(isinstance(value, int) for value in values)
    assert spread_range({"from": 40, "to": 41, "count": 3}) == [40, 40.5, 41]


@given(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3), st.integers(2, 50))
def test_range_has_its_ends_and_is_even(first: float, last: float, count: int) -> None:
    if abs(first - last) < 1e-3:
        return
    values = [
        read_quantity(text, "length")
        for text in spread_range({"from": f"{first!r} m", "to": f"{last!r} m", "count": count})
    ]
    assert len(values) == count
    assert isclose(values[0], first, rel_tol=1e-14, abs_tol=1e-14)
    assert isclose(values[-1], last, rel_tol=1e-14, abs_tol=1e-14)
    steps = [b - a for a, b in pairwise(values)]
    assert all(isclose(step, (last - first) / (count - 1), rel_tol=1e-8) for step in steps)


@pytest.mark.parametrize(
    ("given", "clause"),
    [
        ({"from": "1 mm", "to": "2 mm"}, "a range without count"),
        ({"from": "1 mm", "to": "2 mm", "count": 2, "step": 1}, "a range with step"),
        ({"from": "1 mm", "to": "2 mm", "count": 1}, "count is 1"),
        ({"from": "1 mm", "to": "2 mm", "count": 2.0}, "count is 2.0"),
        ({"from": "1 mm", "to": "2 mm", "count": True}, "count is True"),
        ({"from": "1 mm", "to": "2 mm", "count": 10**9}, "count is 1000000000"),
        ({"from": "1 mm", "to": "1 mm", "count": 2}, "ends are the same"),
        ({"from": "1 mm", "to": "2 ohm", "count": 2}, '"2 ohm" is a resistance'),
        ({"from": "1 mm", "to": 2, "count": 2}, "2 has no unit"),
        ({"from": 1, "to": float("inf"), "count": 2}, "not finite"),
        ({"from": "a", "to": "b", "count": 2}, "a range from a to b"),
        ({"from": "60 dBuA/m", "to": "1 A/m", "count": 2}, "a range from dBuA/m to A/m"),
    ],
)
def test_refuses_ranges(given: dict[str, object], clause: str) -> None:
    with pytest.raises(QuantityError) as caught:
        spread_range(given)
    assert clause in caught.value.given


@pytest.mark.parametrize("text", ["4⁴ mm", "4₄ mm", "⁴ mm", "4④ mm", "10⁻³ m", "4½ mm", "٤ mm", "4_4 mm", "1e³ mm"])
def test_digits_of_another_kind_are_no_digits(text: str) -> None:
    with pytest.raises(QuantityError):
        read_quantity(text, "length")


def test_raised_digits_of_a_unit_and_wide_digits_are_read() -> None:
    assert read_quantity("3 A/mm²", "current density") == read_quantity("3 A/mm2", "current density")
    assert read_quantity("\uff14 ㎜", "length") == pytest.approx(4e-3)


@pytest.mark.parametrize("text", ["0.0_118", "nan", "inf", "٤", "4⁴", "", "1,5", "0x10", "1e400000"])
def test_a_bare_number_is_written_in_plain_digits(text: str) -> None:
    with pytest.raises(ValueError, match="is no plain number"):
        bare_number(text)
    assert bare_number(" -1.5e-3 ") == -1.5e-3
