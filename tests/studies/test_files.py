"""Files are whole or not there."""

from pathlib import Path

import pytest

from studies.files import remove_partials, whole_file, write_text


def _half_write(path: Path) -> None:
    with whole_file(path) as partial:
        partial.write_text("half", encoding="utf-8")
        raise RuntimeError("cut off")


def test_a_writer_that_fails_leaves_the_old_file(tmp_path: Path) -> None:
    path = tmp_path / "value.txt"
    write_text(path, "old")
    with pytest.raises(RuntimeError, match="cut off"):
        _half_write(path)
    assert path.read_text(encoding="utf-8") == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["value.txt"]


def test_what_a_killed_run_left_is_cleared(tmp_path: Path) -> None:
    (tmp_path / ".c0001.npz.99.partial").write_text("half", encoding="utf-8")
    (tmp_path / "c0001.npz").write_text("whole", encoding="utf-8")
    remove_partials(tmp_path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["c0001.npz"]
