"""The Touchstone file read back by scikit-rf: it gives L, R and k of the same study solved at each frequency."""

import warnings
from pathlib import Path

import numpy as np
import pytest

from studies.evaluation import Evaluation, evaluated
from studies.exported import AtPlace, RunDesign, at_place
from studies.stored import Run, StoredDesign
from studies.study import read_study
from studies.two_port import SHARES, read_frequencies, touchstone, two_port
from tests.studies.test_netlist import FOIL, ONE

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # scikit-rf's own, of what it imports
    import skrf

TEXT = ONE.replace("[base_coil]", FOIL + "[base_coil]")
FREQUENCIES = (67.1e3, 134.2e3, 268.4e3)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("two_port") / "foil.toml"
    path.write_text(TEXT.replace('under = "plate"', 'under = "screen"'), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def at(file: Path) -> AtPlace:
    study = read_study(file)
    stored = StoredDesign(0, study.base.design, "done", "", {})
    return at_place(RunDesign(Run(file.parent, study, (stored,), {}), stored, study.base), None, None)


@pytest.fixture(scope="module")
def network(at: AtPlace, file: Path) -> skrf.Network:
    path = file.parent / "coils.s2p"
    text = touchstone("o'brien\n# Hz Z MA R 1 <b>", at, two_port(at, FREQUENCIES), ["hot\n1 2 3"])
    path.write_text(text, encoding="ascii")
    return skrf.Network(str(path))


def solved_at(file: Path, frequency: float) -> Evaluation:
    return evaluated(read_study(file, (f"study.frequency={frequency / 1e3:g} kHz",)).base)


@pytest.mark.parametrize("number", range(len(FREQUENCIES)))
def test_scikit_rf_gives_back_what_a_solve_at_that_frequency_finds(
    number: int, network: skrf.Network, file: Path
) -> None:
    frequency, z = FREQUENCIES[number], network.z[number]
    found, omega = solved_at(file, frequency), 2.0 * np.pi * frequency
    row, height = found.row, np.array([15e-3])
    assert network.f[number] == frequency
    assert z[0, 0].imag / omega == pytest.approx(row["base_inductance_H"], rel=1e-9, abs=0.0)
    assert z[0, 0].real == pytest.approx(row["base_resistance_ohm"], rel=1e-9, abs=0.0)
    assert z[1, 1].imag / omega == pytest.approx(found.coils.tag_inductance(height)[0], rel=1e-9, abs=0.0)
    assert z[1, 1].real == pytest.approx(found.coils.tag_resistance(height, frequency)[0], rel=1e-9, abs=0.0)
    assert z[0, 1] == z[1, 0] or z[0, 1] == pytest.approx(z[1, 0], rel=1e-9)
    k = abs(z[0, 1]) / np.sqrt(z[0, 0].imag * z[1, 1].imag)
    assert k == pytest.approx(row["coupling_coefficient"], rel=1e-9, abs=0.0)


def test_the_foil_makes_the_frequencies_differ(network: skrf.Network) -> None:
    inductance = network.z[:, 0, 0].imag / (2.0 * np.pi * network.f)
    mutual = np.abs(network.z[:, 0, 1]) / (2.0 * np.pi * network.f)
    assert inductance[0] > 1.01 * inductance[-1]
    assert mutual[0] > 1.1 * mutual[-1]


def test_the_two_port_is_passive_and_reciprocal(network: skrf.Network) -> None:
    assert network.is_passive()
    assert np.allclose(network.s[:, 0, 1], network.s[:, 1, 0], rtol=1e-12, atol=0.0)


def test_an_odd_title_stays_a_comment(network: skrf.Network) -> None:
    assert network.z0[0, 0] == 50.0
    assert "# Hz Z MA R 1 <b>" in network.comments


def test_frequencies_hold_the_carrier() -> None:
    assert read_frequencies((), 134.2e3) == tuple(share * 134.2e3 for share in SHARES)
    assert read_frequencies(("200 kHz", "100 kHz"), 134.2e3) == (100e3, 134.2e3, 200e3)


def test_a_wanted_inductance_keeps_its_turns_at_every_frequency(file: Path) -> None:
    text = file.read_text(encoding="utf-8").replace("turns = 40", 'inductance = "50 uH"')
    other = file.parent / "wanted.toml"
    other.write_text(text, encoding="utf-8")
    study = read_study(other)
    stored = StoredDesign(0, study.base.design, "done", "", {})
    at = at_place(RunDesign(Run(file.parent, study, (stored,), {}), stored, study.base), None, None)
    low = two_port(at, (30e3,)).impedances[0, 0, 0].imag / (2.0 * np.pi * 30e3)
    turns = at.found.coils.base.turns
    fixed = file.parent / "fixed.toml"
    fixed.write_text(text.replace('inductance = "50 uH"', f"turns = {turns:g}"), encoding="utf-8")
    assert low == pytest.approx(solved_at(fixed, 30e3).row["base_inductance_H"], rel=1e-9)
    assert solved_at(other, 30e3).row["base_turns"] != turns  # a solve there would wind another coil
