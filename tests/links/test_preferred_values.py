"""Choices of parts against every possible choice tried in turn."""

from itertools import combinations, combinations_with_replacement, pairwise

import numpy as np
import pytest

from links.errors import LinkError
from links.preferred_values import (
    PartsBank,
    PartsOffered,
    bank_choice,
    bank_setting,
    best_pair,
    nearest_part,
    preferred_values,
    series_digits,
)

E12 = PartsOffered("E12", 10e-12, 1e-6)
WANTED = [10.1e-12, 703e-12, 3.6e-9, 3.61e-9, 47e-9, 0.9999e-6]


def test_values_within_a_range_hold_both_ends() -> None:
    assert preferred_values("E6", 4.7e-9, 22e-9) == (4.7e-9, 6.8e-9, 10e-9, 15e-9, 22e-9)
    assert preferred_values("E3", 4.8e-9, 9.9e-9) == ()
    assert preferred_values("E96", 100e-12, 103e-12) == (100e-12, 102e-12)
    assert len(preferred_values("E192", 1.0, 999.0)) == 3 * 192


@pytest.mark.parametrize("least", [0.99e-10, 0.999999e-9, 1e-9, 1.0000001e-9, 9.1e-9])
def test_every_decade_is_found(least: float) -> None:
    every = [float(f"{digits}e{decade}") for decade in range(-14, -6) for digits in series_digits("E24")]
    expected = tuple(value for value in every if least <= value <= 82e-9)
    assert preferred_values("E24", least, 82e-9) == expected


def test_each_series_holds_every_second_of_the_next() -> None:
    for small, large in [("E3", "E6"), ("E6", "E12"), ("E12", "E24"), ("E48", "E96"), ("E96", "E192")]:
        assert series_digits(small) == series_digits(large)[::2]  # type: ignore[arg-type]


@pytest.mark.parametrize("wanted", WANTED)
def test_no_part_is_nearer_than_the_nearest(wanted: float) -> None:
    found = nearest_part(wanted, E12)
    errors = [abs(value / wanted - 1.0) for value in E12.values]
    assert abs(found.relative_error) == pytest.approx(min(errors), rel=1e-9, abs=1e-15)
    assert found.capacitance == found.parts[0]
    assert found.relative_error == pytest.approx(found.parts[0] / wanted - 1.0, rel=1e-12, abs=1e-15)


def test_of_two_parts_equally_near_the_smaller_is_chosen() -> None:
    assert nearest_part(1.1e-9, PartsOffered("E12", 1e-9, 10e-9)).parts == (1.0e-9,)


@pytest.mark.parametrize("wanted", [20.2e-12, *WANTED[1:], 1.9e-6])
@pytest.mark.parametrize("series", ["E6", "E24"])
def test_no_pair_is_nearer_than_the_best(wanted: float, series: str) -> None:
    offered = PartsOffered(series, 10e-12, 1e-6)  # type: ignore[arg-type]
    found = best_pair(wanted, offered)
    every = [
        abs((a + b) / wanted - 1.0)
        for a, b in combinations_with_replacement(offered.values, 2)
        if min(a, b) >= 1e-3 * wanted
    ]
    assert abs(found.relative_error) == pytest.approx(min(every), rel=1e-9, abs=1e-15)
    assert found.parts[0] >= found.parts[1] >= 1e-3 * wanted
    assert found.capacitance == pytest.approx(sum(found.parts), rel=1e-15, abs=0.0)


def test_of_pairs_equally_near_the_one_with_the_largest_part_is_chosen() -> None:
    # 2.2 + 2.7 and 3.9 + 1.0 both make 4.9.
    assert best_pair(4.9e-9, PartsOffered("E12", 1e-9, 10e-9)).parts == (3.9e-9, 1.0e-9)


def test_the_smaller_part_is_no_crumb() -> None:
    offered = PartsOffered("E24", 10e-12, 1e-6)
    assert best_pair(47.011e-9, offered, smallest_share=0.0).parts == (47e-9, 11e-12)
    assert best_pair(47.011e-9, offered).parts[1] >= 47e-12
    assert min(best_pair(47.011e-9, offered, smallest_share=0.25).parts) >= 0.25 * 47.011e-9


@pytest.mark.parametrize(
    ("least", "greatest", "step", "n"),
    [(3.2e-9, 4.0e-9, 70e-12, 4), (3.2e-9, 4.0e-9, 35e-12, 5), (680e-12, 730e-12, 10e-12, 3), (1e-9, 1e-9, 1e-9, 1)],
)
def test_a_bank_reaches_its_whole_range_in_its_steps(least: float, greatest: float, step: float, n: int) -> None:
    bank = bank_choice(least, greatest, step, E12, n)
    sums = sorted(sum(bank.fixed) + sum(s) for k in range(n + 1) for s in combinations(bank.switched, k))
    assert len(bank.switched) == n
    assert set(bank.fixed) | set(bank.switched) <= set(E12.values)
    assert sums[0] <= least * (1 + 1e-12)
    assert sums[-1] >= greatest * (1 - 1e-12)
    assert max(np.diff(sums)) <= step * (1 + 1e-12)
    assert bank.largest_step == pytest.approx(max(np.diff(sums)), rel=1e-12, abs=0.0)
    for wanted in np.linspace(max(least, sums[0]), greatest, 50):
        found = bank_setting(bank, float(wanted))
        best = min(abs(c / wanted - 1.0) for c in sums)
        assert abs(found.relative_error) == pytest.approx(best, rel=1e-9, abs=1e-14)
        assert abs(found.capacitance - wanted) <= 0.5 * step * (1 + 1e-9)


def test_a_bank_is_as_fine_as_its_number_of_parts_allows() -> None:
    steps = [bank_choice(3.2e-9, 4.0e-9, 0.5e-9, E12, n).largest_step for n in (2, 3, 4, 5, 6)]
    assert all(fine < coarse for coarse, fine in pairwise(steps))


@pytest.mark.parametrize("least", [703e-12, 3.23e-9, 49e-9])
def test_the_fixed_part_is_the_largest_not_above_the_range(least: float) -> None:
    found = sum(bank_choice(least, 1.02 * least, 0.02 * least, E12, 3).fixed)
    singles = [value for value in E12.values if value <= least]
    pairs = [a + b for a, b in combinations_with_replacement(E12.values, 2) if a + b <= least]
    assert found == pytest.approx(max(singles + pairs), rel=1e-11, abs=0.0)


def test_the_largest_step_is_one_between_neighbours() -> None:
    assert PartsBank((1e-9,), (300e-12, 100e-12)).largest_step == pytest.approx(200e-12, rel=1e-9, abs=0.0)
    assert PartsBank((1e-9,), ()).largest_step == 0.0


def test_of_settings_equally_near_the_one_with_the_smaller_parts_is_chosen() -> None:
    bank = PartsBank((1e-9,), (100e-12, 220e-12, 320e-12))
    assert bank_setting(bank, 1.32e-9).parts == (1e-9, 220e-12, 100e-12)
    assert bank_setting(bank, 1.05e-9).parts == (1e-9,)


@pytest.mark.parametrize("wanted", [0.0, -1e-9, float("nan")])
def test_no_capacitance_is_no_wish(wanted: float) -> None:
    bank = PartsBank((1e-9,), (1e-9,))
    for choose in (nearest_part, best_pair):
        with pytest.raises(LinkError, match="given; it must be greater than 0"):
            choose(wanted, E12)
    with pytest.raises(LinkError, match="given; it must be greater than 0"):
        bank_setting(bank, wanted)
    with pytest.raises(LinkError, match=r"least capacitance of the bank: .* it must be greater than 0"):
        bank_choice(wanted, 1e-9, 1e-10, E12, 3)


def test_what_no_part_reaches_is_said() -> None:
    for wanted in (9e-12, 1.1e-6):
        with pytest.raises(LinkError, match=r"one part: .* F wanted; the parts offered reach from 1e-11 F to 1e-06 F"):
            nearest_part(wanted, E12)
    with pytest.raises(LinkError, match=r"two parts: 2.1e-06 F wanted; the parts offered reach from 2e-11 F to 2e-06"):
        best_pair(2.1e-6, E12)
    with pytest.raises(LinkError, match=r"the bank: 2.1e-09 F wanted; .* from 1e-09 F to 2e-09 F"):
        bank_setting(PartsBank((1e-9,), (1e-9,)), 2.1e-9)
    with pytest.raises(LinkError, match=r"inf given; it must be finite"):
        nearest_part(float("inf"), E12)


def test_a_series_or_a_range_that_is_none_is_named() -> None:
    with pytest.raises(LinkError, match=r"series: 'E7' given; one of E3, E6, E12, E24, E48, E96, E192 is allowed"):
        PartsOffered("E7")  # type: ignore[arg-type]
    with pytest.raises(LinkError, match=r"parts offered: 4.8e-09 F to 9.9e-09 F given; E3 has no value there"):
        PartsOffered("E3", 4.8e-9, 9.9e-9)
    with pytest.raises(LinkError, match="smallest part: 2e-09 given; it must not exceed the largest, 1e-09"):
        PartsOffered("E12", 2e-9, 1e-9)
    with pytest.raises(LinkError, match=r"share of the smaller part: 0.6 given"):
        best_pair(1e-9, E12, 0.6)


def test_a_bank_that_cannot_be_is_refused_with_the_step_it_would_reach() -> None:
    with pytest.raises(
        LinkError, match=r"2 switched parts beside 3.\d+e-09 F do not reach 4e-09 F in such steps, in ste"
    ):
        bank_choice(3.2e-9, 4e-9, 10e-12, E12, 2)
    with pytest.raises(LinkError, match="no step does"):
        bank_choice(3.2e-9, 400e-6, 10e-12, E12, 2)
    with pytest.raises(LinkError, match="the smallest part offered is 1e-11 F"):
        bank_choice(5e-12, 1e-9, 1e-10, E12, 3)
    with pytest.raises(LinkError, match="at most 1e-09 F is allowed"):
        bank_choice(2e-9, 1e-9, 1e-10, E12, 3)
    with pytest.raises(LinkError, match="switched parts: 17 given; from 1 to 16 are allowed"):
        bank_choice(1e-9, 2e-9, 1e-10, E12, 17)
    with pytest.raises(LinkError, match="switched parts: 17 given; at most 16 are allowed"):
        PartsBank((), (1e-9,) * 17)


def test_the_step_that_is_offered_does_reach() -> None:
    with pytest.raises(LinkError) as caught:
        bank_choice(3.2e-9, 4e-9, 10e-12, E12, 3)
    step = float(caught.value.message.split("in steps of ")[1].split(" F")[0])
    assert bank_choice(3.2e-9, 4e-9, step, E12, 3).largest_step <= step * (1 + 1e-12)
