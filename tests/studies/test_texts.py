"""Numbers and candidates as lines of text."""

import pytest

from studies.engineering import engineering
from studies.stored import StoredDesign
from studies.swept import swept_axes
from studies.texts import candidate_lines, row_lines
from studies.verdict import Check
from tests.studies.conftest import Evaluator, Reader
from tests.studies.small import SMALL


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (3.9e-4, "H", "390 µH"),
        (2.7e-3, "H", "2.7 mH"),
        (3.6181e-9, "F", "3.618 nF"),
        (9.99996e-4, "H", "1 mH"),
        (134200.0, "Hz", "134.2 kHz"),
        (-1.5e-6, "A", "-1.5 µA"),
        (0.0, "V", "0 V"),
        (4e-16, "H", "4e-16 H"),
        (1.0, "Ω", "1 Ω"),
    ],
)
def test_numbers_take_the_prefix_an_engineer_would(value: float, unit: str, text: str) -> None:
    assert engineering(value, unit) == text


def test_a_row_shows_every_value_that_exists_with_its_unit(evaluation_of: Evaluator) -> None:
    row = evaluation_of().row
    text = "\n".join(row_lines({"design": "base", **row, "status": "done", "message": ""}))
    for part in (engineering(row["base_inductance_H"], "H"), " Ω", " dB", "± ", "15 mm up, 2 mm off, 5° tilt"):
        assert part in text
    assert "_" not in text
    assert "None" not in text


def check(passed: bool) -> Check:
    return Check("margin", "at_least", 3.0, 1.0, passed, 0.0 if passed else 0.2, "25 mm up")


def test_candidates_have_a_line_each_with_verdict_and_reason(read: Reader) -> None:
    swept = {"base_coil.turns": 40, "base_coil.mean_diameter": 0.03, "margin_dB": 4.25}
    designs = (
        StoredDesign(0, "c0001", "done", "", {"design": "c0001", **swept}, (check(True),)),
        StoredDesign(1, "c0002", "done", "", {"design": "c0002", **swept}, (check(False),)),
        StoredDesign(2, "c0003", "failed", "no room", {"design": "c0003", **swept}),
    )
    lines = candidate_lines(designs, swept_axes(read(SMALL)))
    assert lines == [
        "c0001  pass    40 turns, mean diameter 30 mm: margin 4.2 dB",
        "c0002  fail    40 turns, mean diameter 30 mm: margin 1 dB, at least 3 dB required, 2 dB short (25 mm up)",
        "c0003  failed  40 turns, mean diameter 30 mm: no room",
    ]
    assert candidate_lines(designs[2:], ()) == ["c0003  failed  no room"]
