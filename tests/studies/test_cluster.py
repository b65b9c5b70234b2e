"""A sweep on a real dask.distributed scheduler with two workers, processes of their own, and whatever may go wrong."""

import io
import json
import os
import signal
import socket
import subprocess
import sys
import time
import zipfile
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from studies import cluster, cluster_work
from studies.cluster import connected
from studies.command import main
from studies.errors import ClusterError
from studies.pieces import PHYSICS_VERSION, piece_bytes, write_piece
from studies.running import run_study
from studies.stored import StoredDesign
from studies.study import read_study
from studies.work import compute_one, first_columns
from tests.studies.small import SMALL
from tests.studies.test_running import LONG, maps_equal, stamps

ROOT = Path(__file__).parents[2]
SCHEDULER = "from distributed.cli.dask_scheduler import main; main()"
WORKER = "from distributed.cli.dask_worker import main; main()"


PRELOAD = """
import os, pathlib, signal
from studies import cluster_work

true = getattr(cluster_work.computed, "true", cluster_work.computed)  # this file is loaded more than once
folder = pathlib.Path({folder!r})

def computed(study, index, mine=None):
    for mark in folder.glob(f"die-at-{{index}}-*"):
        if mark.name.endswith("once"):
            mark.unlink()
        os.kill(os.getpid(), signal.SIGKILL)
    return true(study, index, mine)

computed.true = true
cluster_work.computed = computed
"""
"""What the workers load first: a file `die-at-2-once` or `die-at-2-always` kills what that takes the third design."""


class Cluster:
    """A scheduler and its workers on this machine; a worker that dies is started anew by its nanny."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.folder, self.processes = folder, list[subprocess.Popen[bytes]]()
        self.address = f"tcp://127.0.0.1:{free_port()}"
        (folder / "preload.py").write_text(PRELOAD.format(folder=str(folder)), encoding="utf-8")
        port = self.address.rpartition(":")[2]
        self.scheduler = self.start(SCHEDULER, "--host", "127.0.0.1", "--port", port, "--no-dashboard")
        for _ in range(workers):
            self.start_worker()

    def start_worker(self, *more: str, **environment: str) -> subprocess.Popen[bytes]:
        """Start one with two threads: its designs must yet come one at a time."""
        preload = ("--preload", str(self.folder / "preload.py"))
        there = ("--host", "127.0.0.1", "--no-dashboard", "--nthreads", "2")
        return self.start(WORKER, self.address, *there, *preload, *more, **environment)

    def start(self, code: str, *arguments: str, **environment: str) -> subprocess.Popen[bytes]:
        place = {"PYTHONPATH": str(ROOT), "DASK_TEMPORARY_DIRECTORY": str(self.folder)}
        with (self.folder / "log.txt").open("ab") as log:
            process = subprocess.Popen(
                (sys.executable, "-c", code, *arguments),
                cwd=self.folder, env=os.environ | place | environment, stdout=log, stderr=log, start_new_session=True,
            )  # fmt: skip
        self.processes.append(process)
        return process

    def end(self) -> None:
        for process in self.processes:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def free_port() -> int:
    with closing(socket.socket()) as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """A scheduler with two workers, for every test that leaves it alive."""
    one = Cluster(tmp_path_factory.mktemp("cluster"), 2)
    yield one
    one.end()


@pytest.fixture
def mortal(tmp_path: Path) -> Iterator[Cluster]:
    """A scheduler with one worker, to be killed."""
    (tmp_path / "cluster").mkdir()
    one = Cluster(tmp_path / "cluster", 1)
    yield one
    one.end()


def study_file(folder: Path, text: str) -> Path:
    path = folder / "small.toml"
    path.write_text(text, encoding="utf-8")
    return path


def run_by_command(folder: Path, address: str, *more: str) -> subprocess.Popen[str]:
    code = "from studies.command import main; main()"
    command = (sys.executable, "-c", code, "run", str(folder / "small.toml"), "--out", str(folder / "run"))
    return subprocess.Popen(
        (*command, "--cluster", address, *more),
        env=os.environ | {"PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def called(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


def one_paragraph(text: str) -> str:
    """The last line of what a command said on stderr, the lines before it counting what was done."""
    lines = text.strip().splitlines()
    assert "Traceback" not in text
    assert all("candidates, about" in line for line in lines[:-1]), text
    return lines[-1]


def parts(path: Path) -> dict[str, bytes]:
    """A piece's parts, the time that it took left out of its record."""
    with zipfile.ZipFile(path) as archive:
        found = {name: archive.read(name) for name in archive.namelist()}
    record = json.loads(np.load(io.BytesIO(found.pop("record.npy"))).tobytes())
    return found | {"record": json.dumps(record | {"seconds": 0.0}).encode()}


@pytest.fixture(scope="module")
def local(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The long study run by a process of this machine."""
    folder = tmp_path_factory.mktemp("local")
    run_study(read_study(study_file(folder, LONG)), folder / "run", 1, fresh=False)
    return folder / "run"


def equal(one: Path, other: Path) -> bool:
    names = sorted(path.name for path in (one / "designs").iterdir())
    assert names == sorted(path.name for path in (other / "designs").iterdir())
    assert all(parts(one / "designs" / name) == parts(other / "designs" / name) for name in names)
    assert (one / "designs.csv").read_bytes() == (other / "designs.csv").read_bytes()
    return maps_equal(one, other)


def wait_for_pieces(run: Path, count: int) -> None:
    deadline = time.monotonic() + 60.0
    while len(list((run / "designs").glob("c*.npz"))) < count:
        assert time.monotonic() < deadline, "the run stores nothing"
        time.sleep(0.02)


@pytest.mark.slow
def test_a_cluster_gives_what_a_machine_gives_to_the_bit_though_a_worker_dies(
    shared: Cluster, local: Path, tmp_path: Path
) -> None:
    study_file(tmp_path, LONG)
    mark = shared.folder / "die-at-2-once"
    mark.touch()
    process = run_by_command(tmp_path, shared.address)
    _, said = process.communicate(timeout=120.0)
    assert process.returncode == 1, said  # the designs that cannot be built
    assert "Traceback" not in said
    assert "distributed" not in said
    assert not mark.exists()
    assert equal(tmp_path / "run", local)


@pytest.mark.slow
def test_a_design_that_kills_its_worker_three_times_fails_alone(shared: Cluster, tmp_path: Path) -> None:
    study = read_study(study_file(tmp_path, SMALL))
    mark = shared.folder / "die-at-1-always"
    mark.touch()
    with connected(shared.address) as hands:
        outcome = run_study(study, tmp_path / "run", hands, fresh=False)
        assert [stored.status for stored in outcome.run.designs] == [
            "done",
            "failed",
            "done",
            "done",
            "failed",
            "failed",
        ]
        assert "its worker process died three times" in outcome.run.designs[1].message
        mark.unlink()
        before = stamps(tmp_path / "run")
        again = run_study(study, tmp_path / "run", hands, fresh=False)
    assert again.todo.groups == ((1,),)
    assert again.run.designs[1].status == "done"
    assert {n: s for n, s in stamps(tmp_path / "run").items() if n != "c0002.npz"} == {
        n: s for n, s in before.items() if n != "c0002.npz"
    }


@pytest.mark.slow
def test_a_scheduler_that_vanishes_ends_the_run_and_another_carries_it_on(
    mortal: Cluster, shared: Cluster, local: Path, tmp_path: Path
) -> None:
    study_file(tmp_path, LONG)
    process = run_by_command(tmp_path, mortal.address)
    wait_for_pieces(tmp_path / "run", 2)
    os.killpg(mortal.scheduler.pid, signal.SIGKILL)
    _, said = process.communicate(timeout=30.0)
    assert process.returncode == 2, said
    assert f"the scheduler at {mortal.address} no longer answers" in one_paragraph(said)
    assert "the same command carries on" in one_paragraph(said)
    before = stamps(tmp_path / "run")
    assert 2 <= len(before) < 12
    again = run_by_command(tmp_path, shared.address)
    out, said = again.communicate(timeout=120.0)
    assert again.returncode == 1, said
    assert f"{len(before)} of 12 designs were stored already" in out
    assert {name: stamp for name, stamp in stamps(tmp_path / "run").items() if name in before} == before
    assert equal(tmp_path / "run", local)


def check_refused(process: subprocess.Popen[str], address: str, run: Path) -> None:
    _, said = process.communicate(timeout=120.0)
    assert process.returncode == 2, said
    assert said.startswith(f"no dask scheduler could be reached at {address} within 10 s")
    assert len(said.splitlines()) == 1
    assert not run.exists()


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["nothing", "nonsense"])
def test_an_address_without_a_scheduler_is_one_plain_fault(kind: str, tmp_path: Path) -> None:
    study_file(tmp_path, SMALL)
    address = "here, of course" if kind == "nonsense" else f"tcp://127.0.0.1:{free_port()}"
    check_refused(run_by_command(tmp_path, address), address, tmp_path / "run")


@pytest.mark.slow
def test_a_scheduler_that_never_says_a_word_is_waited_for_as_long_as_is_said(tmp_path: Path) -> None:
    """Counted on the line itself, from the call taken to its end: how long a process takes to start is not meant."""
    study_file(tmp_path, SMALL)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        process = run_by_command(tmp_path, address)
        silent.settimeout(120.0)
        line, _ = silent.accept()
        begin = time.monotonic()
        with line:
            line.settimeout(60.0)
            assert line.recv(1) == b""
            waited = time.monotonic() - begin
        check_refused(process, address, tmp_path / "run")
    assert 9.0 < waited < 15.0


class Answers:
    """A client of a scheduler with one worker, whose versions can be made others than ours."""

    def __init__(self, **elsewhere: dict[str, str]) -> None:
        own = {"python": "3.11.7.final.0"} | dict.fromkeys((*cluster.EVERYWHERE, *cluster.COMPUTING), "1.0")
        packages = {who: {"packages": own | elsewhere.get(who, {})} for who in ("client", "scheduler", "worker")}
        self.versions = packages | {"workers": {"tcp://10.0.0.7:1": packages["worker"]}}
        self.answer: object = ("one", PHYSICS_VERSION, True)

    def get_versions(self, packages: list[str]) -> dict[str, Any]:
        assert set(packages) == {*cluster.EVERYWHERE, *cluster.COMPUTING}
        return self.versions

    def run(self, *_: object, **__: object) -> dict[str, object]:
        return {"tcp://10.0.0.7:1": self.answer}


def greeted(client: Answers) -> dict[str, str]:
    return cluster.Cluster(client, "tcp://10.0.0.5:8786").greeted(frozenset({"tcp://10.0.0.7:1"}))


def test_a_worker_of_the_same_versions_is_taken_on() -> None:
    assert greeted(Answers()) == {"tcp://10.0.0.7:1": "one"}
    assert greeted(Answers(scheduler={"python": "3.11.2.final.0", "numpy": "0.1"})) == {"tcp://10.0.0.7:1": "one"}


@pytest.mark.parametrize("who", ["scheduler", "worker"])
@pytest.mark.parametrize("name", ["python", "distributed", "dask"])
def test_a_scheduler_or_worker_that_speaks_otherwise_is_refused(who: str, name: str) -> None:
    with pytest.raises(ClusterError, match=rf"^the {who} at tcp.* has {name} 0\.1 \(here .*carries on from there"):
        greeted(Answers(**{who: {name: "0.1"}}))


@pytest.mark.parametrize("name", ["trivet", "numpy", "scipy", "scikit-fem", "gmsh"])
def test_a_worker_that_would_compute_otherwise_is_refused(name: str) -> None:
    with pytest.raises(ClusterError, match=rf"worker at tcp://10\.0\.0\.7:1 .* it has {name} 0\.1 \(here 1\.0\)"):
        greeted(Answers(worker={name: "0.1"}))


@pytest.mark.parametrize(
    ("answer", "text"),
    [
        (("one", PHYSICS_VERSION + 1, True), f"it has physics {PHYSICS_VERSION + 1} \\(here {PHYSICS_VERSION}\\)"),
        (("one", PHYSICS_VERSION, False), "start it with OPENBLAS_NUM_THREADS=1"),
        (ModuleNotFoundError("No module named 'studies'"), "cannot load trivet .*No module named 'studies'"),
    ],
)
def test_a_worker_of_other_physics_threads_or_none_is_refused(answer: object, text: str) -> None:
    client = Answers()
    client.answer = answer
    with pytest.raises(ClusterError, match=text):
        greeted(client)


def test_a_missing_package_is_said_with_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    found = called("run", str(study_file(tmp_path, SMALL)), "--cluster", "tcp://127.0.0.1:1")
    assert found.exit_code == 2
    assert found.stderr.startswith('--cluster needs the package distributed: pip install "trivet[cluster]"')
    assert len(found.stderr.splitlines()) == 1


def test_workers_of_this_machine_and_of_a_cluster_exclude_each_other(tmp_path: Path) -> None:
    found = called("run", str(study_file(tmp_path, SMALL)), "--cluster", "tcp://127.0.0.1:1", "--workers", "2")
    assert found.exit_code == 2
    assert "--workers goes with worker processes on this machine" in found.stderr


def test_a_worker_returns_the_bytes_of_the_piece_and_its_faults_as_text(tmp_path: Path) -> None:
    study = read_study(study_file(tmp_path, SMALL))
    (tmp_path / "designs").mkdir()
    compute_one(study, tmp_path, 4)
    path = tmp_path / "designs" / "c0005.npz"
    said = ("elsewhere.toml", study.text)
    content = cluster_work.piece(cluster_work.PROCESS, said, 4)
    assert isinstance(content, bytes)
    (tmp_path / "other.npz").write_bytes(content)
    assert parts(tmp_path / "other.npz") == parts(path)
    assert cluster_work.piece("another process", said, 4) is None
    assert cluster_work.piece(cluster_work.PROCESS, ("elsewhere.toml", "nonsense"), 4).startswith("StudyFaults: elsewh")


def test_equal_results_are_equal_bytes(tmp_path: Path) -> None:
    study = read_study(study_file(tmp_path, SMALL))
    stored = StoredDesign(4, "c0005", "failed", "why", first_columns(study, 4))
    first = piece_bytes("key", stored, None)
    time.sleep(2.1)  # a zip file tells time by steps of two seconds
    assert piece_bytes("key", stored, None) == first
    write_piece(tmp_path / "c0005.npz", "key", stored, None)
    assert (tmp_path / "c0005.npz").read_bytes() == first
