"""Cautions of a run: the hottest of its candidates counts, not the one that is shown."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from links.cautions import CALCULATION_ONLY
from studies.hazards import FAR_FIELD, HOTTEST, MAGNET_CAUTION, candidate_cautions, hottest_part
from studies.study import Study

Reader = Callable[..., Study]
TEMPLATES = Path(__file__).parents[2] / "studies" / "templates"
PAGES = sorted(path for path in TEMPLATES.glob("*.html.j2") if "<html" in path.read_text(encoding="utf-8"))


def test_the_hottest_layer_or_solid_counts(read: Reader, bare: str) -> None:
    base = read(bare, "layers.heater.temperature=30 degC", "solids.pan.temperature=40 degC").base
    assert hottest_part(base) == 40.0
    assert not any("burn skin" in text for text in candidate_cautions(base, []))
    assert not any("burn skin" in text for text in candidate_cautions(base, [{HOTTEST: 60.0}]))
    hot = candidate_cautions(base, [{HOTTEST: 45.0}, {HOTTEST: 390.0}, {}])
    assert any(text.startswith("Parts reach 390 °C: above about 60 °C") for text in hot)


def test_each_state_has_its_own_hottest_part(read: Reader, full: str) -> None:
    base = read(full).base
    assert [(one.state, hottest_part(one)) for one in (base, *base.states)] == [
        ("as given", 400.0), ("cold", 20.0), ("hot", 400.0),
    ]  # fmt: skip


def test_the_strongest_field_at_10_m_counts(read: Reader, bare: str) -> None:
    """65.5 dBµA/m at 134.2 kHz, band a3 of ERC/REC 70-03."""
    base = read(bare, "study.frequency=134.2 kHz").base
    within, above = {FAR_FIELD: 1.8e-3}, {FAR_FIELD: 3.76e-3}
    assert not any("at 10 m" in text for text in candidate_cautions(base, [within]))
    found = candidate_cautions(base, [within, above, {}])
    assert any("71.5 dBµA/m rms, 6.0 dB above the limit of 65.5 dBµA/m" in text for text in found)


def test_what_a_calculation_is_not_is_the_last_word(read: Reader) -> None:
    base = read((TEMPLATES.parent / "library" / "bar-magnets.toml").read_text(encoding="utf-8")).base
    for rows in ([], [{"coil_voltage_V": 90.0, HOTTEST: 300.0, FAR_FIELD: 1.0}]):
        assert candidate_cautions(base, rows)[-2:] == (MAGNET_CAUTION, CALCULATION_ONLY)


def test_there_are_the_pages_a_person_acts_on() -> None:
    names = {path.name.partition(".")[0] for path in PAGES}
    assert names == {"bench", "compare", "guide", "pick", "report", "review", "sheet", "shelf", "yield"}


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name.partition(".")[0])
def test_every_page_shows_its_cautions(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert 'class="cautions" aria-label="Cautions"' in text
    assert re.search(r"\{% for (\w+) in (sheet\.)?cautions %\}\s*<(li|p)>\{\{ \1 \}\}</\3>", text)
