"""Runs for the tests of `trivet compare`: solved and stored with their tables, without evidence and report."""

from pathlib import Path

from studies.store import prepare, read_run, write_info
from studies.store import read_info as info_of
from studies.study import read_study
from studies.tables import write_tables
from studies.work import compute
from tests.studies.small import SMALL

LIBRARY = Path(__file__).parents[2] / "studies" / "library"

PLAIN = SMALL[: SMALL.index("[sweep]")]
"""One design."""


def reduced_bench() -> str:
    """The demo study's base design alone: a coarse map, no vessels, states as they are."""
    text = (LIBRARY / "culture-bench.toml").read_text(encoding="utf-8")
    kept = text[: text.index("[[vessels]]")] + text[text.index("[require]") : text.index("[spread]")]
    return kept.replace("count = 56", "count = 6").replace("count = 31", "count = 4").replace("1e-3", "5e-3")


def stored_run(folder: Path, text: str, designs: int | None = None) -> Path:
    """Solve the first ``designs`` of a study and store them as a run in ``folder``."""
    folder.mkdir(parents=True)
    file = folder.parent / f"{folder.name}.toml"
    file.write_text(text, encoding="utf-8")
    study = read_study(file)
    prepare(folder, study, fresh=False)
    count = study.count if designs is None else designs
    compute(folder, tuple(range(count)))
    write_tables(read_run(folder))
    if count == study.count:
        write_info(folder, info_of(folder) | {"status": "complete"})
    return folder
