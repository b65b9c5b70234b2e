"""One thread for dense algebra, set before numpy loads: a second one only makes small matrices wait.

Several processes share out the tests file by file, the longest first; those of tests/published stay together, because
one table collects what they found.
"""

import os
import signal
from typing import Any

import pytest

signal.signal(signal.SIGINT, signal.default_int_handler)  # where a shell starts the tests beside itself, it is ignored

for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"

LONGEST = ("tests/docs/test_blocks.py", "tests/studies/test_kills.py", "tests/studies/test_running.py")
"""Files that take minutes: one of them begun last would leave the other cores idle."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.nodeid.startswith(LONGEST))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    from xdist.scheduler import LoadScopeScheduling

    class ByFile(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.partition("::")[0]
            return "tests/published" if file.startswith("tests/published/") else file

    return ByFile(config, log)
