"""The netlist against a nodal solve of its own text, against ngspice where that is installed, and odd names in it."""

import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from studies.exported import AtPlace, RunDesign, at_place
from studies.netlist import netlist
from studies.plain_text import plain
from studies.specification import Place
from studies.store import Run
from studies.stored import StoredDesign
from studies.study import read_study
from tests.reference.nodal import node_voltages
from tests.studies.small import SMALL

ONE = SMALL[: SMALL.index("[sweep]")]
FOIL = """
[[layers]]
name = "screen"
kind = "foil"
material = "aluminium"
thickness = "0.02 mm"
outer_diameter = "120 mm"
"""
LEAD = """
[lead]
length = "2 m"
hot_length = "0.5 m"
temperature = "200 degC"
conductor_diameter = "0.5 mm"
inductance = "0.6 uH/m"
capacitance = "60 pF/m"
"""
PARALLEL = ("link.tuning=parallel", "drive.resistance=800 ohm")
STUDIES = {
    "series": (ONE, ()),
    "parallel": (ONE, PARALLEL),
    "limited": (ONE, ("drive.current_limit=100 mA",)),
    "off tune": (ONE, ("base_coil.capacitor.capacitance=18 nF", "tag.capacitor.capacitance=3 nF")),
    "stiff source": (ONE, ("drive.resistance=0 ohm",)),
    "under foil": (ONE.replace("[base_coil]", FOIL + "[base_coil]"), ("base_coil.under=screen",)),
    "foil, parallel": (ONE.replace("[base_coil]", FOIL + "[base_coil]"), ("base_coil.under=screen", *PARALLEL)),
    "close over a thin foil": (
        ONE.replace("[base_coil]", FOIL.replace("0.02", "0.0005") + "[base_coil]"),
        ("drive.resistance=0 ohm", "tag.series_resistance=4 ohm", "tag.capacitor.capacitance=2.6 nF"),
    ),
    "far off": (ONE.replace('"0 mm", "8 mm"', '"0 mm", "40 mm"'), ()),
    "lead": (ONE + LEAD, ()),
    "lead, parallel": (ONE + LEAD, PARALLEL),
}
REQUIRED = None
NEAR, BEYOND = Place(6e-3, 0.0, 0.0), Place(9e-3, 40e-3, 0.0)
"""The last where the flux comes back: M is negative."""


@pytest.fixture(scope="module")
def solved(tmp_path_factory: pytest.TempPathFactory):
    """A study's base design at a place; solved once for all tests."""
    folder = tmp_path_factory.mktemp("netlists")

    @cache
    def at(name: str, place: Place | None) -> AtPlace:
        text, overrides = STUDIES[name]
        file = folder / "study.toml"
        file.write_text(text, encoding="utf-8")
        study = read_study(file, overrides)
        stored = StoredDesign(0, study.base.design, "done", "", {})
        return at_place(RunDesign(Run(folder, study, (stored,), {}), stored, study.base), place, None)

    return at


def written(at: AtPlace) -> str:
    return netlist("a design", at, ["hot"])


CASES = [(name, REQUIRED) for name in STUDIES] + [
    ("series", NEAR),
    ("close over a thin foil", NEAR),
    ("far off", BEYOND),
]


@pytest.mark.parametrize(("name", "place"), CASES)
def test_a_nodal_solve_of_the_text_finds_the_chip_voltage(name: str, place: Place | None, solved) -> None:
    at = solved(name, place)
    assert abs(node_voltages(written(at))["chip"]) == pytest.approx(at.link.chip_voltage[0], rel=5e-4, abs=0.0)


@pytest.mark.skipif(shutil.which("ngspice") is None, reason="ngspice is not installed here")
@pytest.mark.parametrize(("name", "place"), CASES)
def test_ngspice_finds_the_chip_voltage(name: str, place: Place | None, solved, tmp_path: Path) -> None:
    at = solved(name, place)
    file = tmp_path / "design.cir"
    file.write_text(written(at), encoding="ascii")
    done = subprocess.run(["ngspice", "-b", str(file)], capture_output=True, text=True, timeout=60, check=True)
    assert "warning" not in (done.stdout + done.stderr).lower()
    voltage = float(re.search(r"^0\s+\S+\s+(\S+)\s+\S+\s*$", done.stdout, re.MULTILINE)[1])
    assert voltage == pytest.approx(at.link.chip_voltage[0], rel=5e-4, abs=0.0)


def test_the_cases_are_what_they_are_called(solved) -> None:
    assert solved("limited", REQUIRED).link.budget.drive_limited[0]
    assert "Rdrive" not in written(solved("stiff source", REQUIRED))
    assert (
        abs(solved("under foil", REQUIRED).mutual_inductance.imag)
        > 0.05 * solved("under foil", NEAR).mutual_inductance.real
    )
    assert solved("far off", BEYOND).mutual_inductance.real < 0.0
    assert "Llead2 " in written(solved("lead", REQUIRED))


def test_the_current_out_of_the_drive_stage(solved) -> None:
    for name in ("series", "limited", "lead", "foil, parallel"):
        at = solved(name, REQUIRED)
        found = node_voltages(written(at))
        current = (found["src"] - found["drv"]) / at.found.candidate.drive.resistance
        assert abs(current) == pytest.approx(abs(at.link.budget.source_current[0]), rel=5e-4, abs=0.0)


def test_the_margin_is_that_of_the_worst_required_place(solved) -> None:
    at = solved("series", REQUIRED)
    assert at.place == Place(15e-3, 2e-3, pytest.approx(np.radians(5.0)))
    assert at.link.margin[0] == pytest.approx(at.found.places[0].margin, rel=1e-9)


@pytest.mark.parametrize("name", ['o\'brien "x" <script>\n.end\nR1 a 0 1', "é/µ\r\n* ü", "a\u2028.end", "b\x00c\x0bR9"])
def test_no_name_becomes_a_line_of_the_netlist(name: str, solved) -> None:
    text = netlist(name, solved("series", REQUIRED), [name])
    assert len(text.splitlines()) == len(netlist("n", solved("series", REQUIRED), ["n"]).splitlines())
    assert text.isascii()
    assert abs(node_voltages(text)["chip"]) == abs(node_voltages(written(solved("series", REQUIRED)))["chip"])


def test_signs_in_plain_letters() -> None:
    assert plain("3 µH, 5 Ω, 10° ± 1") == "3 uH, 5 ohm, 10 deg +/- 1"
