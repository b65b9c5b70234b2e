"""The page: opens with the decision, needs nothing beside itself, and shows nothing a study file could smuggle in."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from studies.report import LARGEST_TABLE, leading_comments, write_report
from studies.report_numbers import error_lines, followed, levels, reach_lines
from studies.specification import Assumption, Candidate
from studies.stored import Arrays, Run, StoredDesign
from studies.study import Study, read_study
from tests.studies.made_runs import (
    LIBRARY,
    arrays_for,
    bench,
    done,
    failed,
    first_look,
    margin_check,
    run_of,
    voltage_check,
)

VOID = {"meta", "br", "link", "img", "input", "hr"}


class Page(HTMLParser):
    """A page taken apart: its elements with their attributes, its visible text, and whether every tag is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes another element"

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.elements if name == tag]


def written(run: Run, folder: Path) -> str:
    """The page of a run, its arrays made up."""

    def arrays(stored: StoredDesign) -> Arrays:
        return arrays_for(run.study.candidate(stored.index))

    return write_report(replace(run, folder=folder), arrays).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def study() -> Study:
    return bench()


@pytest.fixture(scope="module")
def mixed(study: Study) -> Run:
    return run_of(
        study,
        failed(study, 0, "the winding <overlaps> the plate & more"),
        done(study, 20, (margin_check(8.9), voltage_check(101.0)), margin_dB=8.9),
        done(study, 22, (margin_check(9.1), voltage_check(146.0)), margin_dB=9.1, coil_voltage_V=146.0),
        done(study, 4, (margin_check(0.9), voltage_check(70.0)), margin_dB=0.9, hottest_part_degC=380.0),
    )


@pytest.fixture(scope="module")
def folder(mixed: Run, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run")
    written(mixed, folder)
    return folder


@pytest.fixture(scope="module")
def source(folder: Path) -> str:
    return (folder / "report.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(source: str) -> Page:
    return Page(source)


def test_page_opens_with_the_decision_then_the_cautions(page: Page) -> None:
    start = page.text[page.text.index("report of a run") :]
    assert start.startswith(
        "report of a run 1 of 4 candidates meets the requirements; "
        "best: c0021 (mean diameter 54 mm, 64 turns, under plate), margin 8.9 dB"
    )
    decision, cautions, pictures = (start.index(w) for w in ("What stops the best", "Hot.", "In pictures"))
    assert decision < cautions < pictures


def test_page_needs_nothing_beside_itself(source: str, page: Page) -> None:
    for tag, attributes in page.elements:
        for name in ("src", "href", "xlink:href", "data", "action", "poster", "srcset"):
            target = attributes.get(name)
            assert target is None or target.startswith("#"), f"<{tag} {name}={target}>"
    assert page.all("link") == []
    assert "@import" not in source
    assert all(target.startswith("#") for target in re.findall(r"url\(([^)]*)\)", source))
    assert set(re.findall(r"https?://[^\s\"'<>]+", source)) <= {
        "http://www.w3.org/2000/svg",
        "http://www.w3.org/1999/xlink",
    }


def test_every_tag_is_closed_and_every_id_is_one_of_a_kind(page: Page) -> None:
    assert page.open == []
    ids = [attributes["id"] for _, attributes in page.elements if attributes.get("id")]
    assert len(ids) == len(set(ids))
    targets = [str(a["href"])[1:] for a in page.all("a")]
    assert targets
    assert set(targets) <= set(ids)


def test_every_picture_has_words_and_every_column_a_heading(page: Page) -> None:
    images = [attributes for _, attributes in page.elements if attributes.get("role") == "img"]
    assert len(images) == 5
    assert all(len(str(image["aria-label"])) > 30 for image in images)
    assert page.all("th")
    assert all(attributes.get("scope") in ("col", "row") for attributes in page.all("th"))
    assert all(attributes.get("aria-label") or attributes.get("id") == "table" for attributes in page.all("table"))


def test_candidates_stand_best_first_with_what_they_miss(page: Page) -> None:
    table = page.text[page.text.index("What it misses") :]
    order = [table.index(name) for name in ("c0021", "c0005", "c0023", "c0001")]
    assert order[0] < min(order[1:])
    assert order[-1] == max(order)
    assert (
        "c0023 54 mm 90 plate misses 9.1 55.0 146 300 0.60 coil voltage 146 V, at most 125 V required, 21 V too much"
        in table
    )
    assert "(42 mm up" not in table[: table.index("c0001")]  # the place would make rows tall; it stands in the decision
    assert "c0001 24 mm 40 plate not computed the winding <overlaps> the plate & more" in table


def test_a_message_is_shown_as_text_not_as_markup(source: str) -> None:
    assert "the winding &lt;overlaps&gt; the plate &amp; more" in source
    assert "<overlaps>" not in source


def test_words_of_a_study_file_cannot_become_markup(tmp_path: Path) -> None:
    evil = "<script>alert(1)</script>"
    text = (LIBRARY / "first-look.toml").read_text(encoding="utf-8")
    file = tmp_path / "evil.toml"
    file.write_text(f"# {evil} & Co\n{text}", encoding="utf-8")
    study = read_study(file)
    base = replace(study.base, assumptions=(Assumption(f"key{evil}", f"value{evil}", f"reason{evil}"),))
    study = replace(study, name=f"name{evil}", base=base)
    stored = done(study, 0, (margin_check(1.0),))
    stored = replace(stored, warnings=(f"warning{evil}",), cautions=(f"caution{evil}",))
    source = written(run_of(study, stored), tmp_path)
    assert len(Page(source).all("script")) == 1
    assert evil not in source
    assert source.count("&lt;script&gt;alert(1)&lt;/script&gt;") >= 4


def test_names_inside_pictures_cannot_become_markup(tmp_path: Path) -> None:
    study = bench()
    evil = '"><script>x</script>'
    candidate = study.candidate(3)
    layers = tuple(replace(layer, name=f"{layer.name}{evil}") for layer in candidate.stack.layers)

    class Renamed:
        """The demo study, the names of its layers made evil."""

        def __getattr__(self, name: str) -> Any:
            return getattr(study, name)

        def candidate(self, index: int) -> Candidate:
            return replace(candidate, stack=replace(candidate.stack, layers=layers))

    run = run_of(study, done(study, 3, (margin_check(9.0),)))
    source = written(replace(run, study=Renamed()), tmp_path)
    assert "<script>x" not in source
    assert len(Page(source).all("script")) == 1


def test_figures_lie_beside_the_page_and_old_ones_are_gone(mixed: Run, folder: Path, tmp_path: Path) -> None:
    wanted = {
        f"{key}.{end}" for key in ("section", "profile", "coupling", "sweep", "reasons") for end in ("png", "svg")
    }
    assert {path.name for path in (folder / "figures").iterdir()} == wanted
    (tmp_path / "figures").mkdir()
    (tmp_path / "figures" / "profile_of_the_next.svg").write_text("old", encoding="utf-8")
    written(mixed, tmp_path)
    assert {path.name for path in (tmp_path / "figures").iterdir()} == wanted


def test_the_same_run_gives_the_same_page(mixed: Run, source: str, tmp_path: Path) -> None:
    assert written(mixed, tmp_path) == source


def test_where_the_next_best_lacks_reach_its_profile_is_shown_too(study: Study, tmp_path: Path) -> None:
    run = run_of(study, done(study, 20, (margin_check(8.0),)), done(study, 4, (margin_check(1.9),)))
    text = Page(written(run, tmp_path)).text
    assert (tmp_path / "figures" / "profile_of_the_next.png").exists()
    assert "Candidate c0005 (mean diameter 24 mm, 90 turns, under plate)." in text


def test_where_none_passes_the_nearest_is_shown(study: Study, tmp_path: Path) -> None:
    page = Page(written(run_of(study, done(study, 4, (margin_check(1.9),))), tmp_path))
    assert "In pictures: c0005" in page.text
    assert "missed : margin 1.9 dB, at least 3 dB required" in page.text
    assert [a["class"] for a in page.all("section") if "decision" in str(a.get("class"))] == ["decision fail"]


@pytest.mark.parametrize("some_failed", [True, False])
def test_a_run_without_a_computed_candidate_still_has_a_page(study: Study, tmp_path: Path, some_failed: bool) -> None:
    designs = (failed(study, 0, "no room"),) if some_failed else ()
    page = Page(written(run_of(study, *designs), tmp_path))
    assert ("No candidate could be computed." if some_failed else "No candidate is computed yet.") in page.text
    assert "This is a calculation, not a safety or compliance approval" in page.text
    assert page.open == []


def test_one_design_is_called_the_design(tmp_path: Path) -> None:
    study = first_look()
    text = Page(written(run_of(study, done(study, 0, (margin_check(4.0),), tag_spread=0.1)), tmp_path)).text
    assert "The design meets the requirements: margin 5.0 dB" in text
    assert "The design in numbers" in text
    assert "64 whole turns follow from the wanted 390 µH as installed; they give 390 µH." in text
    assert "other constructions move M and k by up to ±10 %" in text


def test_a_long_table_is_cut_and_says_so(study: Study, tmp_path: Path) -> None:
    one = done(study, 20, (margin_check(8.0),))
    many = [replace(one, index=20, design=f"d{number:04d}") for number in range(LARGEST_TABLE + 5)]
    page = Page(written(run_of(study, *many), tmp_path))
    assert f"The best {LARGEST_TABLE} of {LARGEST_TABLE + 5}; all of them are in designs.csv" in page.text
    assert f"d{LARGEST_TABLE - 1:04d}" in page.text
    assert f"d{LARGEST_TABLE + 4:04d}" not in page.text


def test_warnings_that_differ_in_numbers_alone_are_told_once(study: Study, tmp_path: Path) -> None:
    designs = [
        replace(done(study, i, (margin_check(8.0),)), warnings=(f"wire: {150 + i} V stands", "drive: held back"))
        for i in (20, 21)
    ]
    text = Page(written(run_of(study, *designs, done(study, 4, (margin_check(8.0),))), tmp_path)).text
    assert "wire: 170 V stands (c0021, c0022; with other figures in some of them)" in text
    assert "171 V" not in text
    assert "drive: held back (c0021, c0022)" in text


def test_another_candidates_voltage_and_heat_are_among_the_cautions(page: Page) -> None:
    assert (
        "Another candidate, c0023, reaches 146 V peak across its coil. "
        "In another candidate, c0005, parts reach 380 °C and burn skin. A calculation."
    ) in page.text


def test_another_candidate_above_the_limit_at_10_m_is_among_the_cautions(study: Study, tmp_path: Path) -> None:
    margins = {20: 2.0, 22: -4.25, 4: -1.0}
    designs = [done(study, i, (margin_check(8.0 - 0.1 * i),), field_at_10_m_margin_dB=m) for i, m in margins.items()]
    text = Page(written(run_of(study, *designs), tmp_path)).text
    assert text.count("above the limit of the field at 10 m") == 1
    assert "Another candidate, c0023, is 4.2 dB above the limit of the field at 10 m." in text


def test_a_frequency_without_level_or_limit_says_that_none_is_known(study: Study) -> None:
    candidate = study.candidate(20)
    silent = {line.name: line for line in reach_lines(replace(candidate, frequency=2e3), done(study, 20))}
    assert silent["reference levels reached"].remark == "no level is known here at this frequency"
    assert silent["margin of the field at 10 m"].remark == "no limit is known here at this frequency"
    told = reach_lines(candidate, done(study, 20, field_at_10_m_margin_dB=61.04, reference_level_distance_m=51e-3))
    assert [(line.name, line.value) for line in told] == [
        ("level for the public reached", "51 mm"),
        ("margin of the field at 10 m", "61.0 dB"),
    ]


def test_levels_stand_beside_their_source(study: Study) -> None:
    found = {level.name: level for level in levels(study.candidate(20), done(study, 20))}
    voltage = found["coil voltage, peak"]
    assert (voltage.value, voltage.level, voltage.compared) == ("99 V", "42.4 V", "above: 2.3 times the level")
    (public,) = (level for name, level in found.items() if name.endswith("for the public"))
    assert (public.value, public.level) == ("200 µT", "27 µT")
    assert "ICNIRP 2010" in public.source
    # 2 µA/m is 20 log10(2) = 6.0 dB above 1 µA/m.
    assert found["field at 10 m, rms"].value == "2 µA/m (6.0 dBµA/m)"


def test_a_frequency_without_a_known_level_says_so(study: Study) -> None:
    candidate = replace(study.candidate(20), frequency=80e3)
    (field,) = (level for level in levels(candidate, done(study, 20)) if level.name.startswith("field"))
    assert (field.level, field.compared) == ("none", "no level known here at this frequency")


def test_a_value_that_followed_is_not_listed_as_assumed(tmp_path: Path) -> None:
    study = first_look()
    stored = done(study, 0, (margin_check(4.0),))
    sentences = followed(study.candidate(0), stored)
    assert any(
        sentence.startswith("layers.heater.thickness = 0.0161472 mm: follows from the rating") for sentence in sentences
    )
    page = Page(written(run_of(study, stored), tmp_path)).text
    assumed = page[page.index("Assumed values") : page.index("Estimated errors")]
    assert "layers.heater.pitch" in assumed
    assert "layers.heater.thickness" not in assumed


def test_errors_carry_a_stock_parts_spread_only_where_there_is_one(study: Study) -> None:
    assert "stock part" not in [line.name for line in error_lines(done(study, 0))]
    lines = {
        line.name: line.value for line in error_lines(done(study, 0, tag_spread=0.1, mutual_inductance_rel_error=0.1))
    }
    assert lines["stock part"] == "±10 %"
    assert lines["margin"] == "±0.92 dB"


def test_the_study_files_own_words_about_itself_are_quoted(page: Page) -> None:
    assert "An invented scenario, made up to show trivet at work" in page.text


def test_leading_comments_end_where_the_study_begins() -> None:
    assert leading_comments("# One.\n#\n#  Two.\n[study]\n# not this\n") == "One.\n\nTwo."
    assert leading_comments("[study]\n# late\n") == ""
    assert leading_comments("\ufeff# Marked.\nname = 1") == "Marked."
    assert leading_comments("") == ""


def test_provenance_tells_versions_hash_and_mesh(study: Study, tmp_path: Path) -> None:
    run = run_of(study, done(study, 20, (margin_check(8.0),)))
    run = replace(run, info={**run.info, "study_hash": "abc123", "started": "2026-01-01T00:00:00+00:00"})
    text = Page(written(run, tmp_path)).text
    provenance = text[text.rindex("Provenance") :]
    for words in (
        "trivet 0",
        "abc123",
        "1700 to 1700 triangles",
        "1.5 to 1.5 s",
        "incomplete: stored designs are gone, trivet run computes them again, 1 of 36 candidates stored",
    ):
        assert words in provenance
