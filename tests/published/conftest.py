"""The table's own test runs after the checks whose rows it looks at, and knows whether any of them was left out."""

from pathlib import Path

import pytest

HERE = Path(__file__).parent
WHOLE = pytest.StashKey[bool]()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: item.path.name == "test_table.py" and item.path.parent == HERE)
    files = {item.path for item in items}
    named = any("::" in argument for argument in config.args)
    config.stash[WHOLE] = not named and set(HERE.glob("test_*.py")) <= files


@pytest.hookimpl(trylast=True)
def pytest_collection_finish(session: pytest.Session) -> None:
    chosen = session.config.getoption("keyword") or session.config.getoption("markexpr")
    session.config.stash[WHOLE] = session.config.stash.get(WHOLE, False) and not chosen


@pytest.fixture
def all_checks_ran(request: pytest.FixtureRequest) -> bool:
    """Whether every check of tests/published was chosen for this session, and none has failed before its row."""
    return request.config.stash.get(WHOLE, False) and request.session.testsfailed == 0
