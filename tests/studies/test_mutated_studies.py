"""Spoilt study files: each is read or refused in plain lines, and what is accepted is solved or fails in plain words.

A few of them belong to the tests of every day; ``make fuzz`` takes 10,000, and SEED=2 another 10,000.
"""

import json
import os
import signal
import subprocess
import sys
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from io import BytesIO
from itertools import count
from math import inf, isnan
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from studies import checking, faults
from studies.checking import check_lines
from studies.faults import StudyFaults
from studies.study import Study, read_study
from studies.work import computed
from tests.studies.mutants import SOURCES, Mutant, mutant

MANY = "MUTANTS" in os.environ
SEED = int(os.environ.get("SEED", "1"))
READ = int(os.environ.get("MUTANTS", "800"))
SOLVED = int(os.environ.get("SOLVED", "12"))
COMMANDS = int(os.environ.get("COMMANDS", "4"))

READ_WITHIN, SOLVED_WITHIN = 30, 300
"""Seconds of work; `STANDSTILL` times as many by the clock, since a machine has more to do and may stand still."""

STANDSTILL = 10

CHEAP = ("small", "stock", "rod", "first-look")
"""Studies of which a design takes a second or less."""

LONGEST_LINE = 4 * faults.LONGEST_CLAUSE
OF_THE_WHOLE = ("is not TOML", "holds no UTF-8", "is nested too deeply")
"""Faults that no key stands for."""

NO_FIELD = ("margin", "worst_margin", "margin_low", "margin_high", "margin_dB")
"""Where a tag that picks up nothing has −∞ dB."""


class Endless(BaseException):
    """Time is up; no Exception, so that no handler of ours takes it for a fault of a design."""


@contextmanager
def within(seconds: int) -> Iterator[None]:
    def stop(*_: Any) -> None:
        raise Endless

    clocks = {
        signal.SIGPROF: (signal.ITIMER_PROF, seconds),
        signal.SIGALRM: (signal.ITIMER_REAL, STANDSTILL * seconds),
    }
    before = {number: signal.signal(number, stop) for number in clocks}
    try:
        for clock, limit in clocks.values():
            signal.setitimer(clock, limit)
        yield
    finally:
        for clock, _ in clocks.values():
            signal.setitimer(clock, 0)
        for number, handler in before.items():
            signal.signal(number, handler)


def complaint(found: Mutant, file: Path) -> tuple[str, str]:
    """What became of a mutant, and what is wrong with that; nothing as it should be."""
    file.write_bytes(found.content)
    try:
        with within(READ_WITHIN):
            lines = check_lines(read_study(file))
    except StudyFaults as refused:
        odd = [str(fault) for fault in refused.faults if not _is_plain(fault)]
        return "refused", f"an odd line: {odd[0][:300]!r}" if odd or not refused.faults else ""
    except Endless:
        return "endless", "reads without end"
    except Exception:
        return "fault", f"a fault of our own: {traceback.format_exc()[-1500:]}"
    odd = [line for line in lines if not line.isprintable()]
    return "accepted", f"an odd line: {odd[0][:300]!r}" if odd else ""


def _is_plain(fault: faults.Fault) -> bool:
    """One line of bounded length that names the key and says something."""
    line = str(fault)
    named = bool(fault.key) or fault.given.startswith(OF_THE_WHOLE)
    return line.isprintable() and len(line) < LONGEST_LINE and named and bool(fault.given.strip())


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "study.toml"


@pytest.mark.slow
def test_every_spoilt_file_is_read_or_refused_in_plain_lines(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if not MANY:
        monkeypatch.setattr(checking, "COUNTED", 20)  # of a sweep's designs, so many are looked at
    outcomes: Counter[str] = Counter()
    complaints = []
    for number in range(READ):
        found = mutant(SEED, number)
        outcome, wrong = complaint(found, file)
        outcomes[outcome] += 1
        complaints += [f"{found}: {wrong}"] if wrong else []
    print(f"\nseed {SEED}: {READ} read: {dict(outcomes)}")
    assert not complaints, "\n".join(complaints[:20])
    assert min(outcomes["accepted"], outcomes["refused"]) > READ // 20


def accepted(file: Path, sources: tuple[str, ...]) -> Iterator[tuple[Mutant, Study]]:
    """Mutants that can be run, without end; those of the other end of the numbers than the test above begins with."""
    number = 10_000_000
    while True:
        number += 1
        found = mutant(SEED, number)
        if found.source in sources:
            file.write_bytes(found.content)
            try:
                yield found, read_study(file)
            except StudyFaults:
                continue


def stray(content: bytes) -> list[str]:
    """Stored numbers that are none, by name; −∞ where a tag without a field has it is a number."""
    parts = np.load(BytesIO(content))
    record = json.loads(parts["record"].tobytes())
    numbers = [*_numbers(record), *((name, parts[name]) for name in parts.files if name != "record")]
    return [name for name, values in numbers if not _is_good(name, np.asarray(values))]


def _is_good(name: str, values: Any) -> bool:
    if np.isnan(values).any():
        return False
    silent = name.partition("_")[2] if name.startswith("line") else name
    return bool(np.isfinite(values if silent not in NO_FIELD else values[values != -inf]).all())


def _numbers(node: Any, name: str = "") -> Iterator[tuple[str, float]]:
    if isinstance(node, float):
        yield name, node
    elif isinstance(node, dict):
        for key, value in node.items():
            yield from _numbers(value, key)
    elif isinstance(node, list):
        for value in node:
            yield from _numbers(value, name)


@pytest.mark.slow
def test_what_is_accepted_is_solved_or_fails_in_plain_words(file: Path) -> None:
    outcomes: Counter[str] = Counter()
    complaints = []
    for found, study in accepted(file, tuple(SOURCES) if MANY else CHEAP):
        base = replace(study, swept_axes=(), sampling=None)  # whose one candidate is the base design
        try:
            with within(SOLVED_WITHIN):
                stored, content = computed(base, 0)
        except Endless:
            outcomes["endless"] += 1
            complaints.append(f"{found}: solves without end")
        else:
            outcomes[stored.status] += 1
            plain = stored.status == "done" or (stored.message and "a fault of its own" not in stored.message)
            complaints += [] if plain else [f"{found}: {stored.message}"]
            complaints += [f"{found}: no number in {name}" for name in stray(content)]
        if outcomes.total() >= SOLVED:
            break
    print(f"\nseed {SEED}: {outcomes.total()} solved: {dict(outcomes)}")
    assert not complaints, "\n".join(complaints[:20])
    assert outcomes["done"] > SOLVED // 2


def test_stray_numbers_are_found() -> None:
    record = {"row": {"margin_dB": -inf, "base_q": float("nan"), "turns": 3}, "lines": [{"intervals": [[0.0, inf]]}]}
    memory = BytesIO()
    np.savez(
        memory,
        record=np.frombuffer(json.dumps(record).encode(), dtype=np.uint8),
        worst_margin=np.array([-inf, 1.0]),
        margin=np.array([inf]),
        line0_margin_low=np.array([-inf]),
        tag_inductance=np.array([-inf]),
        line1_margin=np.array([np.nan]),
        chip_voltage=np.array([1.0]),
    )
    assert isnan(record["row"]["base_q"])  # type: ignore[index, call-overload]
    assert stray(memory.getvalue()) == ["base_q", "intervals", "margin", "tag_inductance", "line1_margin"]


@pytest.mark.slow
def test_the_command_never_shows_a_traceback(tmp_path: Path) -> None:
    for number in range(COMMANDS):
        found = mutant(SEED, 20_000_000 + number)
        study = tmp_path / "study.toml"
        study.write_bytes(found.content)
        for command in ("check", "solve"):
            if command == "solve" and found.source not in CHEAP:
                continue
            ended = subprocess.run(
                [sys.executable, "-c", "from studies.command import main; main()", command, str(study)],
                cwd=tmp_path,
                env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
                capture_output=True,
                timeout=SOLVED_WITHIN,
                check=False,
            )
            told = ended.stderr.decode()
            assert "Traceback" not in told, f"{found}: {told}"
            assert "a fault of its own" not in told, f"{found}: {told}"
            assert ended.returncode in (0, 1, 2), f"{found}: {ended.returncode}"
            assert ended.returncode == 0 or told.strip(), f"{found} ends without a word"


@pytest.mark.slow
def test_time_is_up_after_work_and_after_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(Endless), within(1):
        all(True for _ in count())
    monkeypatch.setattr(sys.modules[__name__], "STANDSTILL", 1)
    with pytest.raises(Endless), within(1):
        time.sleep(60)
    with within(1):
        pass
    time.sleep(1.2)  # no clock is left running
