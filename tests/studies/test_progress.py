"""How far a run has come, on a terminal and elsewhere."""

import io

import pytest

from studies.progress import duration, progress


def test_plain_lines_come_every_twentieth(capsys: pytest.CaptureFixture[str]) -> None:
    with progress(200, "culture-bench") as count:
        for index in range(200):
            count(index, "done", 0.1)
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 20
    assert lines[0].startswith("culture-bench: 10 of 200 candidates, about ")
    assert lines[-1] == "culture-bench: 200 of 200 candidates, about 0 s left"


@pytest.mark.parametrize("total", [1, 3, 19])
def test_few_candidates_have_a_line_each(total: int, capsys: pytest.CaptureFixture[str]) -> None:
    with progress(total, "x") as count:
        for index in range(total):
            count(index, "done", 0.1)
    assert len(capsys.readouterr().err.splitlines()) == total


def test_a_terminal_gets_a_bar_that_goes_away(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress(4, "bench") as count:
        for index in range(4):
            count(index, "done", 0.1)
    assert "bench" in terminal.getvalue()
    assert "candidates, about" not in terminal.getvalue()


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0 s"), (89.4, "89 s"), (91.0, "2 min"), (5300.0, "88 min"), (5400.0, "1.5 h")]
)
def test_durations_read_well(seconds: float, text: str) -> None:
    assert duration(seconds) == text
