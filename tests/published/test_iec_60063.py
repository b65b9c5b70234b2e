"""IEC 60063: preferred values, as printed (from memory, REFERENCES 6), and every series against another package."""

from math import prod

import eseries
import pytest

from links.preferred_values import preferred_values, series_digits
from tests.published.records import Means, Record, Source, Status

SOURCE = Source("IEC 60063", "IEC 60063, *Preferred number series for resistors and capacitors*.", "standard")
RECORD = Record(SOURCE, Status.MEMORY, Means.TRANSCRIPTION, "the printed values themselves; rounding in binary")

E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
E24_ADDS = (1.1, 1.3, 1.6, 2.0, 2.4, 3.0, 3.6, 4.3, 5.1, 6.2, 7.5, 9.1)
E3, E6 = E12[::4], E12[::2]


@pytest.mark.parametrize(
    ("series", "printed"), [("E3", E3), ("E6", E6), ("E12", E12), ("E24", tuple(sorted(E12 + E24_ADDS)))]
)
def test_two_digit_series_as_printed(series: str, printed: tuple[float, ...]) -> None:
    found = preferred_values(series, 1.0, 9.99)  # type: ignore[arg-type]
    assert found == printed
    # One number that no other set of so many two-digit values in this order is likely to give: their product.
    RECORD.compare(f"product of the {len(printed)} values of {series} [1]", prod(printed), prod(found), relative=1e-12)


def test_e24_is_not_the_rounded_geometric_series_at_eight_places() -> None:
    off = [number for i, number in enumerate(series_digits("E24")) if number != round(10.0 * 10.0 ** (i / 24.0))]
    RECORD.but(why="a count").compare("values of E24 off the rounded geometric series [1]", 8, len(off), absolute=0.5)


def test_the_one_exception_of_e192() -> None:
    off = [(i, n) for i, n in enumerate(series_digits("E192")) if n != round(100.0 * 10.0 ** (i / 192.0))]
    assert off == [(185, 920)]
    found = preferred_values("E192", 9.15, 9.25)
    RECORD.compare("the value of E192 where rounding gives 9.19 [1]", 9.20, found[0], relative=1e-12)


@pytest.mark.parametrize("series", ["E3", "E6", "E12", "E24", "E48", "E96", "E192"])
def test_every_series_is_that_of_the_eseries_package(series: str) -> None:
    assert series_digits(series) == tuple(eseries.series(eseries.ESeries[series]))  # type: ignore[arg-type]


@pytest.mark.parametrize("series", ["E12", "E24", "E96"])
def test_values_within_a_range_are_those_of_the_eseries_package(series: str) -> None:
    oracle = eseries.erange(eseries.ESeries[series], 33e-12, 2.2e-6)
    found = preferred_values(series, 33e-12, 2.2e-6)  # type: ignore[arg-type]
    assert found == pytest.approx(list(oracle), rel=1e-9, abs=0.0)
