"""The experiment on the error estimates: its designs, its limits, its counting (the experiment: `make estimates`)."""

import numpy as np
import pytest

from benchmarks.error_page import COLOURS, page_text, statistics
from benchmarks.random_designs import random_design
from benchmarks.references import limit


def test_a_design_hangs_on_seed_and_number_alone():
    assert repr(random_design(3, 7)) == repr(random_design(3, 7))
    assert repr(random_design(3, 7)) != repr(random_design(3, 8))
    assert repr(random_design(3, 7)) != repr(random_design(4, 7))


def test_designs_are_of_every_sort():
    words = " ".join(random_design(3, number).words for number in range(100))
    for part in ("foil", "meander", "open spiral", "shorted spiral", "rings", "aluminium", "austenitic steel",
                 "mild steel", "heat block", "ferrite disc", "drum core", "rod core", "air core"):  # fmt: skip
        assert part in words


def test_limit_of_a_geometric_series_is_found():
    values = np.array([1.0 + 0.5**k for k in range(3)], dtype=complex) * (2.0 + 1.0j)
    found, doubt = limit(values)
    assert found == pytest.approx(2.0 + 1.0j, rel=1e-12, abs=0.0)
    assert doubt == pytest.approx(0.25 * abs(2.0 + 1.0j), rel=1e-12, abs=0.0)


def test_what_does_not_converge_keeps_its_last_step_as_doubt():
    assert limit(np.array([1.0, 1.1, 1.2], dtype=complex)) == (1.2, pytest.approx(0.1, rel=1e-12, abs=0.0))
    assert limit(np.array([1.0, 1.1, 1.05], dtype=complex)) == (1.05, pytest.approx(0.05, rel=1e-12, abs=0.0))


def entry(stated, true, doubt=0.0):
    return {"stated": stated, "true": true, "doubt": doubt, "size": 1.0}


def test_unresolved_cases_count_as_the_largest_ratios_and_are_not_surely_covered():
    found = statistics([entry(1.0, 0.5), entry(1.0, 2.0), entry(1.0, 0.1), entry(1.0, 0.1, 3.0)])
    assert found["covered"] == 0.75
    assert found["surely covered"] == 0.5
    assert found["resolved"] == 0.75
    assert (found["lower"], found["median"], found["upper"]) == (2.0, 10.0, np.inf)


def test_page_names_what_is_not_covered():
    line = {"design": "004", "words": "a coil", "quantities": dict.fromkeys(COLOURS, entry(1.0, 0.5))}
    bad = {"design": "005", "words": "another", "quantities": dict.fromkeys(COLOURS, entry(1.0, 2.0))}
    assert "None." in page_text([line], 3, "x.png")
    text = page_text([line, bad], 3, "x.png")
    assert "- design 005 (another), tag L: stated 1.0e+00, true 2.0e+00" in text
    assert "| tag L | 2 | 50.0 % | 50.0 % | 100.0 % |" in text
