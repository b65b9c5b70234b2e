"""A study file to spoil: each test changes what it is about."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from studies.evaluation import Evaluation, evaluated
from studies.study import Study, StudyFaults, read_study
from tests.studies.small import SMALL

LIBRARY = Path(__file__).parents[2] / "studies" / "library"
FIRST_LOOK = (LIBRARY / "first-look.toml").read_text(encoding="utf-8")
FULL = (LIBRARY / "full-vocabulary.toml").read_text(encoding="utf-8")
BARE = "".join(
    line for line in FULL[: FULL.index("[temperatures.")].splitlines(True) if not line.startswith("capacitor =")
)
"""The full vocabulary without its capacitor and its states."""

Reader = Callable[..., Study]
FaultLister = Callable[..., list[str]]


def line_of(text: str, part: str) -> int:
    """Line on which a part of a text begins, from 1."""
    return text[: text.index(part)].count("\n") + 1


@pytest.fixture
def read(tmp_path: Path) -> Reader:
    """Reads a text as a study file called study.toml."""

    def read_text(text: str, *overrides: str) -> Study:
        file = tmp_path / "study.toml"
        file.write_text(text, encoding="utf-8")
        return read_study(file, overrides)

    return read_text


@pytest.fixture
def faults(read: Reader, tmp_path: Path) -> FaultLister:
    """The lines a text is refused with, the folder cut off; an accepted text fails the test."""

    def lines(text: str, *overrides: str) -> list[str]:
        with pytest.raises(StudyFaults) as caught:
            read(text, *overrides)
        return str(caught.value).replace(f"{tmp_path}/", "").split("\n")

    return lines


@pytest.fixture
def full() -> str:
    """The full vocabulary."""
    return FULL


@pytest.fixture
def bare() -> str:
    """The full vocabulary without its capacitor and its states."""
    return BARE


@pytest.fixture
def first_look() -> str:
    """The short study."""
    return FIRST_LOOK


Evaluator = Callable[..., Evaluation]


@pytest.fixture(scope="session")
def evaluation_of(tmp_path_factory: pytest.TempPathFactory) -> Evaluator:
    """Evaluates the small study's base design with values set over it; the same ones are solved once a session."""
    file = tmp_path_factory.mktemp("small") / "small.toml"
    file.write_text(SMALL, encoding="utf-8")

    @cache
    def evaluation(*overrides: str) -> Evaluation:
        return evaluated(read_study(file, overrides).base)

    return evaluation
