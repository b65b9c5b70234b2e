"""A dask.distributed scheduler that is there already: reached, checked, and asked to work. Its package is an extra."""

import logging
import socket
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from studies.errors import ClusterError
from studies.pieces import NUMERICAL_LIBRARIES, PHYSICS_VERSION

REACH = 10.0
"""Longest wait for a scheduler, and for the first of its workers [s]."""
EVERYWHERE = ("distributed", "dask")
COMPUTING = ("trivet", *NUMERICAL_LIBRARIES)
CARRIES_ON = "What was finished is stored; the same command carries on from there, with or without --cluster."


@dataclass(frozen=True, slots=True, eq=False)
class Cluster:
    """A scheduler that answers, ``client`` being the connection."""

    client: Any
    address: str

    def running(self) -> frozenset[str]:
        """Addresses of the workers that are ready to work."""
        with self.speaking():
            workers = self.client.scheduler_info(n_workers=-1)["workers"]
        return frozenset(address for address, worker in workers.items() if worker["status"] == "running")

    def greeted(self, workers: frozenset[str]) -> dict[str, str]:
        """Workers whose versions and settings are ours, each with what tells its process from others.

        Raises
        ------
        ClusterError
            Where one would compute something else, or the scheduler cannot be understood.
        """
        with self.speaking():
            found = self.client.get_versions(packages=[*EVERYWHERE, *COMPUTING])
        own = _versions(found["client"], COMPUTING)
        self._compare(f"the scheduler at {self.address}", _versions(found["scheduler"], ()), own)
        for worker in workers & found["workers"].keys():
            self._compare(f"the worker at {worker}", _versions(found["workers"][worker], COMPUTING), own)
        return self._processes(workers)

    def _compare(self, who: str, versions: dict[str, str], own: dict[str, str]) -> None:
        other = [f"{name} {got} (here {own[name]})" for name, got in versions.items() if got != own[name]]
        if other:
            raise ClusterError(
                f"{who} does not fit this trivet: it has {', '.join(other)}. Results must not hang on where a design "
                f"was computed: install the same versions there, or leave out --cluster. {CARRIES_ON}"
            )

    def _processes(self, workers: frozenset[str]) -> dict[str, str]:
        from studies.cluster_work import greeting

        with self.speaking():
            answers = self.client.run(greeting, workers=sorted(workers), on_error="return")
        processes = {}
        for worker, answer in answers.items():
            if isinstance(answer, OSError):
                continue  # it left while we asked
            if isinstance(answer, BaseException):
                raise ClusterError(
                    f"the worker at {worker} cannot load trivet ({type(answer).__name__}: {_line(answer)}): "
                    f"install the same trivet there. {CARRIES_ON}"
                )
            process, physics, one_thread = answer
            self._compare(f"the worker at {worker}", {"physics": str(physics)}, {"physics": str(PHYSICS_VERSION)})
            if not one_thread:
                raise ClusterError(
                    f"the worker at {worker} loaded numpy with several threads for dense algebra: start it with "
                    f"OPENBLAS_NUM_THREADS=1. {CARRIES_ON}"
                )
            processes[worker] = process
        return processes

    @contextmanager
    def speaking(self) -> Iterator[None]:
        """Turn what the connection raises as it breaks into one fault."""
        from distributed import CancelledError
        from distributed.client import ClosedClientError

        try:
            yield
        except (OSError, TimeoutError, CancelledError, ClosedClientError) as fault:
            raise ClusterError(f"the scheduler at {self.address} no longer answers. {CARRIES_ON}") from fault


@contextmanager
def connected(address: str, patience: float = REACH) -> Iterator[Cluster]:
    """A scheduler that answers, with workers that fit.

    Raises
    ------
    ClusterError
        Where the package is missing, nothing answers within ``patience`` [s], or what answers does not fit.
    """
    try:
        import dask
        from distributed import Client
    except ImportError as fault:
        raise ClusterError(
            '--cluster needs the package distributed: pip install "trivet[cluster]", here and on the workers'
        ) from fault
    _hush()
    with warnings.catch_warnings(), dask.config.set({"distributed.comm.timeouts.connect": patience}):
        warnings.filterwarnings("ignore", module="distributed")  # versions are compared by us
        try:
            _listen(address, patience)
            client = Client(address, timeout=patience)
        except Exception as fault:  # it depends on what listens there, if anything does
            raise ClusterError(
                f"no dask scheduler could be reached at {address} within {patience:g} s ({_line(fault)}); give "
                '--cluster the address that the scheduler prints when it starts, as in "tcp://10.0.0.5:8786"'
            ) from fault
        try:
            cluster = Cluster(client, address)
            _await_workers(cluster, patience)
            yield cluster
        finally:
            client.close(timeout=2.0)


def _listen(address: str, patience: float) -> None:
    """Hear the first byte that a scheduler says to whoever connects: the library waits for it without end.

    Raises
    ------
    OSError
        Where nobody is there, or whoever is says nothing within ``patience`` [s].
    """
    place = urlsplit(address)
    if place.scheme != "tcp" or place.hostname is None or place.port is None:
        return  # what the library makes of it
    with socket.create_connection((place.hostname, place.port), timeout=patience) as line:
        if not line.recv(1):
            raise ConnectionError("whoever listens there hangs up")


def _hush() -> None:
    """Keep the library's log off the terminal: what matters is said by us, once."""
    for name in ("distributed", *logging.root.manager.loggerDict):
        if name.partition(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)


def _await_workers(cluster: Cluster, patience: float) -> None:
    deadline = time.monotonic() + patience
    while not (workers := cluster.running()):
        if time.monotonic() > deadline:
            raise ClusterError(
                f"the scheduler at {cluster.address} has no worker that is ready; start some with `dask worker "
                f"{cluster.address} --nthreads 1`"
            )
        time.sleep(0.1)
    cluster.greeted(workers)


def _versions(found: dict[str, Any], names: tuple[str, ...]) -> dict[str, str]:
    packages = found["packages"]
    python = ".".join(str(packages["python"]).split(".")[:2])
    return {"python": python} | {name: packages.get(name) or "not installed" for name in (*EVERYWHERE, *names)}


def _line(fault: BaseException) -> str:
    return " ".join(str(fault).split()) or type(fault).__name__
