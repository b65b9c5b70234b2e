"""The page that a reviewer keeps open: what is packed comes out again, and a real browser shows and follows it."""

import base64
import html
import re
import zlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from studies.command import DONE, WRONG_INPUT, main
from studies.one_state import MapValues
from studies.review_data import LOWEST, STEP, packed, review_data
from studies.review_page import as_script
from studies.store import arrays_of, read_run
from studies.stored import Run
from tests.studies.browser import dom_of

LIBRARY = Path(__file__).parents[2] / "studies" / "library"

SWEEP = """
[sweep]
"base_coil.mean_diameter" = ["44 mm", "64 mm"]
"base_coil.turns" = [64, 90, 2000]
"""


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder = tmp_path_factory.mktemp("review")
    text = (LIBRARY / "culture-bench.toml").read_text(encoding="utf-8")
    text = text[: text.index("[sweep]")] + SWEEP + text[text.index("[require]") : text.index("[spread]")]
    study = folder / "small.toml"
    study.write_text(text.replace("accuracy = 1e-3", "accuracy = 1e-2"), encoding="utf-8")
    made = CliRunner().invoke(main, ["run", str(study), "--out", str(folder / "run"), "--workers", "1"])
    assert "Report:" in made.output, made.output
    told = CliRunner().invoke(main, ["review", str(folder / "run")])
    assert told.exit_code == DONE, told.output
    return read_run(folder / "run")


def seen(run: Run, hash_: str = "", script: str = "") -> str:
    """The page's text as a browser has it once all is drawn and ``script`` has been run."""
    page = run.folder / "review.html"
    if script:
        told = page.read_text(encoding="utf-8")
        waiting = (
            "<script>const wait = setInterval(async () => { if (!document.documentElement.dataset.ready) return;"
            f"clearInterval(wait); {script}; }}, 50);</script></body>"
        )
        page = run.folder / ".driven.html"
        page.write_text(told.replace("</body>", waiting), encoding="utf-8")
    found = dom_of(f"{page.as_uri()}{hash_}", run.folder / ".browser", "--virtual-time-budget=15000")
    return found[: found.index('<script type="application/json"')]


def words(dom: str, name: str) -> str:
    found = re.search(rf'<(\w+)[^>]* id="{name}"[^>]*>(.*?)</\1>', dom, re.DOTALL)
    assert found is not None, name
    return html.unescape(re.sub(r"<[^>]+>", " ", found.group(2))).strip()


def test_a_map_comes_out_as_it_went_in() -> None:
    generator = np.random.default_rng(3)
    shape = (7, 5, 3)
    margin = generator.uniform(-90.0, 40.0, shape)
    margin[0, 0, 0] = -np.inf
    coefficient, volts = 10.0 ** generator.uniform(-6.0, 0.0, shape), 10.0 ** generator.uniform(-4.0, 2.0, shape)
    volts[1, 1, 1] = 0.0
    values = MapValues(*(np.zeros(shape),) * 3, coefficient, volts, margin, margin)  # type: ignore[arg-type]
    steps = np.frombuffer(zlib.decompress(base64.b64decode(packed(values))), dtype="<i2")
    found = np.cumsum(steps, dtype=np.int16).reshape(3, 3, 7, 5).transpose(0, 2, 3, 1) * STEP
    for got, given in zip(found, (margin, 20.0 * np.log10(coefficient)), strict=False):
        kept = np.maximum(given, LOWEST)
        assert np.max(np.abs(got - kept)) <= 0.5 * STEP + 1e-9
    assert found[2][1, 1, 1] == LOWEST


def test_no_name_can_end_the_script() -> None:
    text = as_script({"name": "</script><script>alert(1)</script>", "other": "<!-- <script"})
    assert "<" not in text


@pytest.mark.slow
def test_what_is_shown_is_what_is_stored(run: Run) -> None:
    data = review_data(run, lambda stored: arrays_of(run, stored))
    assert [one["state"] for one in data["designs"]].count("not computed") == 2
    done = [stored for stored in run.designs if stored.status == "done"]
    told = [one for one in data["designs"] if one["map"] is not None]
    assert len(done) == len(told) == 4
    for stored, one in zip(done, told, strict=True):
        assert one["figures"][0] == pytest.approx(stored.row["margin_dB"], abs=1e-4)
        margin = arrays_of(run, stored).map.worst_margin
        steps = np.frombuffer(zlib.decompress(base64.b64decode(one["map"])), dtype="<i2")
        first = np.cumsum(steps, dtype=np.int16)[: margin.size].reshape(margin.shape[2], *margin.shape[:2]) * STEP
        assert np.max(np.abs(first.transpose(1, 2, 0) - np.maximum(margin, LOWEST))) <= 0.5 * STEP + 1e-9
    assert {body.split("|")[0] for body in data["bodies"]} == {
        "plate", "heater", "pan", "base coil", "tag's core", "tag's coil",
    }  # fmt: skip


@pytest.mark.slow
def test_a_browser_shows_the_best_candidate_and_all_rows(run: Run) -> None:
    dom = seen(run)
    best = max((one for one in run.designs if one.passed), key=lambda one: float(one.row["margin_dB"]), default=None)
    shown = words(dom, "who").split(":")[0]
    assert best is None or shown == best.design
    assert words(dom, "rows").count("meets all") == sum(one.passed for one in run.designs)
    assert words(dom, "counted") == "6 of 6 candidates"
    assert dom.count('class="main-svg"') >= 3
    assert int(re.search(r'data-ready="(\d+)"', dom).group(1)) > 0  # type: ignore[union-attr]


@pytest.mark.slow
def test_an_address_opens_a_candidate_and_controls_follow(run: Run) -> None:
    dom = seen(run, "#candidate=c0004&tilt=90&show=k")
    assert words(dom, "who") == "c0004: mean diameter 64 mm, turns 64"
    assert words(dom, "tiltis") == "90°"
    script = (
        "const s = document.querySelector('[data-axis=\"0\"]'); s.value = 0; s.dispatchEvent(new Event('input'));"
        "const f = document.getElementById('filter'); f.value = '64 mm'; f.dispatchEvent(new Event('input'))"
    )
    dom = seen(run, "#candidate=c0004", script)
    assert words(dom, "who") == "c0001: mean diameter 44 mm, turns 64"
    assert words(dom, "counted") == "3 of 6 candidates"


@pytest.mark.slow
def test_the_table_sorts_and_names_are_chosen_by_keyboard_buttons(run: Run) -> None:
    sort = "document.querySelectorAll('#heads button')[3].click()"
    dom = seen(run, "", sort)
    margins = [float(found) for found in re.findall(r'<td class="number">(-?[\d.]+)</td><td class="number">[\d.]*</td>'
                                                    r'<td class="number">\d+</td>', dom)]  # fmt: skip
    assert len(margins) == 4
    assert margins == sorted(margins, reverse=True)
    assert 'aria-sort="descending"' in dom
    dom = seen(run, "", "document.querySelectorAll('button.pick')[1].click()")
    assert words(dom, "who").startswith("c0002")


@pytest.mark.slow
def test_a_candidate_that_failed_says_why(run: Run) -> None:
    dom = seen(run, "#candidate=c0003")
    assert words(dom, "verdict").startswith("Not computed: base_coil.turns: 2000 turns")


@pytest.mark.slow
def test_names_with_markup_are_shown_and_never_run(run: Run) -> None:
    name = "<img src=x onerror=document.title='broken'>"
    odd = tuple(replace(one, design=f"{name}{one.index}", message=name) for one in run.designs)
    from studies.review_page import write_review

    kept = (run.folder / "review.html").read_text(encoding="utf-8")
    try:
        names = {f"{name}{one.index}": one for one in run.designs}
        write_review(replace(run, designs=odd), lambda stored: arrays_of(run, names[stored.design]))
        dom = seen(run)
        assert name in words(dom, "who")
        assert "<img" not in dom
        assert "<title>broken" not in dom
    finally:
        (run.folder / "review.html").write_text(kept, encoding="utf-8")


def test_a_folder_that_is_no_run_is_told(tmp_path: Path) -> None:
    result = CliRunner().invoke(main, ["review", str(tmp_path)])
    assert result.exit_code == WRONG_INPUT
    assert "no run" in result.stderr
