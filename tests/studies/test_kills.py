"""A running sweep is killed again and again, in every way and at random moments, and carried on by the same command.

What is checked afterwards: every result equals that of a run that nobody disturbed, and no finished design was
computed twice. For the latter the kernel is asked how often each piece was put in place, since a file that was written
anew may look like the one before.
"""

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from studies.pieces import Content
from studies.running import run_study
from studies.store import claimed, prepare
from studies.study import read_study
from tests.studies.small import SMALL
from tests.studies.test_running import maps_equal, rows, wait_until_gone
from tests.studies.watched import Watched

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks the kernel and /proc"),
]
ROOT = Path(__file__).parents[2]

KILLS = int(os.environ.get("TRIVET_KILLS", "50"))
"""How often the run is killed; more of them take more designs, which the study is given."""
CLOSING = KILLS // 10
"""Kills kept for the end, where all is computed and the tables and the report are written."""
DIAMETERS = 10
SEED = 20

MANY = SMALL.replace("[40, 60, 300]", f"{[*range(31, 31 + KILLS // 2), 300]}").replace(
    '["30 mm", "44 mm"]', f'{{ from = "30 mm", to = "45 mm", count = {DIAMETERS} }}'
)
"""Designs of some 50 ms, solved in earnest; 300 turns do not fit and fail, which is a result too."""

Mark = tuple[str, int, int]


class Sweep:
    """The command at work on one folder, in a process group of its own as on a terminal."""

    def __init__(self, folder: Path) -> None:
        self.run, self.source = folder / "run", folder / "many.toml"
        self.source.write_text(MANY, encoding="utf-8")
        self.study = read_study(self.source)
        with claimed(self.run):
            prepare(self.run, self.study, fresh=False)
        self.watched = Watched(self.run / "designs")
        self.marks: dict[str, Mark] = {}
        self.process: subprocess.Popen[str] | None = None
        self.worker_deaths = 0

    def start(self) -> subprocess.Popen[str]:
        code = "from studies.command import main; main()"
        command = [sys.executable, "-c", code, "run", str(self.source), "--out", str(self.run), "--workers", "2"]
        environment = os.environ | {"PYTHONPATH": str(ROOT)}
        with (self.run.parent / "said.txt").open("w", encoding="utf-8") as said:
            self.process = subprocess.Popen(
                command, env=environment, stdout=said, stderr=said, text=True, start_new_session=True
            )
        self.worker_deaths = 0
        return self.process

    def said(self) -> str:
        return (self.run.parent / "said.txt").read_text(encoding="utf-8")

    def alive(self) -> subprocess.Popen[str]:
        """The process, started where none is at work."""
        return self.process if self.process is not None and self.process.poll() is None else self.start()

    def pieces(self) -> list[Path]:
        return sorted((self.run / "designs").glob("c*.npz"))

    def workers(self) -> list[int]:
        assert self.process is not None
        try:
            kin = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text(encoding="ascii")
            lines = {int(child): Path(f"/proc/{child}/cmdline").read_text(encoding="utf-8") for child in kin.split()}
        except OSError:  # one of them is gone meanwhile
            return []
        return [child for child, line in lines.items() if "spawn_main" in line]

    def note(self) -> None:
        """Every piece is whole, and each that was seen before is the very same file."""
        self.watched.look()
        for path in self.pieces():
            mark = (sha256(path.read_bytes()).hexdigest(), path.stat().st_ino, path.stat().st_mtime_ns)
            if path.name not in self.marks:
                Content.read(path)
            assert self.marks.setdefault(path.name, mark) == mark, f"{path.name} was written anew"
        assert self.marks.keys() <= {path.name for path in self.pieces()}, "a stored piece is gone"


def until(what: Callable[[], object], seconds: float) -> None:
    """Wait for something, at most so long."""
    deadline = time.monotonic() + seconds
    while not what() and time.monotonic() < deadline:
        time.sleep(0.01)


def kill_parent(sweep: Sweep, chance: random.Random) -> bool:
    """SIGKILL to the run's own process: its workers have to see to themselves."""
    return ended(sweep, lambda process: process.kill())


def kill_all(sweep: Sweep, chance: random.Random) -> bool:
    """SIGKILL to every process at once, as where the machine goes down."""
    return ended(sweep, lambda process: os.killpg(process.pid, signal.SIGKILL))


def terminate_parent(sweep: Sweep, chance: random.Random) -> bool:
    return ended(sweep, lambda process: process.terminate())


def terminate_all(sweep: Sweep, chance: random.Random) -> bool:
    return ended(sweep, lambda process: os.killpg(process.pid, signal.SIGTERM))


def interrupt(sweep: Sweep, chance: random.Random) -> bool:
    """Ctrl-C on a terminal."""
    return ended(sweep, lambda process: os.killpg(process.pid, signal.SIGINT))


def ended(sweep: Sweep, kill: Callable[[subprocess.Popen[str]], None]) -> bool:
    """End a run that is at work; False where it was over already."""
    process, workers = sweep.alive(), sweep.workers()
    if process.poll() is not None:
        return False
    kill(process)
    process.wait(timeout=10.0)
    wait_until_gone(workers)
    return process.returncode not in (0, 1)


def kill_worker(sweep: Sweep, chance: random.Random) -> bool:
    """SIGKILL to one worker; the run goes on. Not thrice in one run: that is held to be the design's own fault."""
    if sweep.worker_deaths == 2:
        return False
    until(sweep.workers, 5.0)
    workers = sweep.workers()
    if not workers:
        return False
    sweep.worker_deaths += 1
    os.kill(chance.choice(workers), signal.SIGKILL)
    return True


WAYS = (kill_parent, kill_worker, kill_all, terminate_parent, terminate_all, interrupt)


@pytest.fixture
def sweep(tmp_path: Path) -> Iterator[Sweep]:
    made = Sweep(tmp_path)
    yield made
    if made.process is not None and made.process.poll() is None:
        os.killpg(made.process.pid, signal.SIGKILL)
        made.process.wait()
    made.watched.close()


def kill_at_random(sweep: Sweep, chance: random.Random) -> dict[str, int]:
    """All kills but those of the end: most at any moment from the start on, the others as results come in."""
    counts = {way.__name__: 0 for way in WAYS}
    while sum(counts.values()) < KILLS - CLOSING:
        process, before = sweep.alive(), len(sweep.pieces())
        if chance.random() < 0.6:
            until(lambda process=process: process.poll() is not None, chance.uniform(0.0, 2.0))
        else:
            wanted = before + chance.randint(1, 2)
            until(lambda wanted=wanted: len(sweep.pieces()) >= wanted, 10.0)
            time.sleep(chance.uniform(0.0, 0.15))
        assert len(sweep.pieces()) < sweep.study.count, "too few designs for so many kills"
        way = chance.choice(WAYS)
        sweep.note()
        counts[way.__name__] += way(sweep, chance)
        sweep.note()
    return counts


def kill_at_the_end(sweep: Sweep, chance: random.Random) -> int:
    """Kills while the tables and the report are written, none of which a broken one may be left of."""
    process = sweep.alive()
    until(lambda: len(sweep.pieces()) == sweep.study.count or process.poll() is not None, 120.0)
    done, latest = 0, 5.0
    while done < CLOSING:
        process = sweep.alive()
        after = chance.uniform(0.0, latest)
        until(lambda process=process: process.poll() is not None, after)
        if not chance.choice((kill_parent, kill_all, interrupt))(sweep, chance):
            latest = 0.8 * latest
            continue
        done += 1
        sweep.note()
    return done


def test_a_sweep_killed_fifty_times_is_none_the_worse(sweep: Sweep, tmp_path: Path) -> None:
    chance = random.Random(SEED)
    counts = kill_at_random(sweep, chance)
    assert min(counts.values()) > 0 or KILLS < 50, counts
    assert sum(counts.values()) + kill_at_the_end(sweep, chance) == KILLS
    assert sweep.alive().wait(timeout=120.0) == 1, sweep.said()  # the designs that cannot be built
    assert "Traceback" not in sweep.said()
    sweep.note()

    names = {path.name for path in sweep.pieces()}
    assert len(names) == sweep.study.count
    placed = {name: count for name, count in sweep.watched.placed.items() if not name.startswith(".")}
    assert placed == dict.fromkeys(names, 1), "a finished design was computed twice"
    assert not [name for name in sweep.watched.taken if not name.startswith(".")]
    assert not list(sweep.run.rglob("*.partial"))
    assert json.loads((sweep.run / "run.json").read_text(encoding="utf-8"))["status"] == "complete"

    whole = tmp_path / "undisturbed"
    run_study(sweep.study, whole, 2, fresh=True)
    assert rows(sweep.run) == rows(whole)
    assert maps_equal(sweep.run, whole)
    for path in sweep.pieces():
        assert_equal_pieces(path, whole / "designs" / path.name)


def assert_equal_pieces(one: Path, other: Path) -> None:
    first, second = Content.read(one), Content.read(other)
    assert first.key == second.key
    assert first.record | {"seconds": 0.0} == second.record | {"seconds": 0.0}
    assert first.names == second.names
    for name in first.names:
        if name != "record":
            np.testing.assert_array_equal(first[name], second[name])
