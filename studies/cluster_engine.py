"""A sweep shared out to the workers of a cluster, survived as by `engine` and stored here.

Who computes what is decided here and not by the scheduler: a design goes to one worker, so that it is known what a
worker had in hand as it died, and designs that share a field go to the same one.
"""

import time
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from studies.cluster import CARRIES_ON, Cluster
from studies.cluster_work import piece
from studies.engine import DIED, MOST_DEATHS, Plan, Report
from studies.errors import ClusterError
from studies.files import whole_file
from studies.pieces import BrokenPieceError, read_record
from studies.store import piece_path
from studies.study import Study
from studies.work import key_of, store_death

IN_HAND = 2
"""Designs handed to a worker at a time: the next one lies ready as it finishes one."""
PATIENCE = 60.0
"""How long to wait for a worker where none is left, and for one that pauses (short of memory) to go on [s]."""
LOOK = 0.5
"""Time between two looks at who is there [s]."""


@dataclass(slots=True)
class _Member:
    """A worker: what tells its process, designs kept for it, and those that it has in hand."""

    process: str
    seen: float
    own: deque[int] = field(default_factory=deque)
    in_hand: dict[Any, int] = field(default_factory=dict)
    alone: bool = False


def carry_out_on(cluster: Cluster, study: Study, folder: Path, todo: Plan, report: Report) -> None:
    """Compute what is left on a cluster, each design stored here before it is reported.

    Raises
    ------
    ClusterError
        Where the scheduler goes away, no worker is left, or one computes something else.
    """
    sharing = _Sharing(cluster, study, folder, todo, report)
    try:
        while sharing.left:
            sharing.muster()
            sharing.hand_out()
            sharing.take_in()
    finally:
        sharing.release()


class _Sharing:
    """The state of a share-out."""

    def __init__(self, cluster: Cluster, study: Study, folder: Path, todo: Plan, report: Report) -> None:
        self.cluster, self.study, self.folder, self.report = cluster, study, folder, report
        self.groups = deque(todo.groups)
        self.suspects: deque[int] = deque()
        self.deaths: dict[int, int] = {}
        self.left = todo.count
        self.members: dict[str, _Member] = {}
        self.looked = float("-inf")
        self.worked = time.monotonic()

    def muster(self) -> None:
        """See who is there, now and then: the newly come are greeted, what the gone had in hand is taken back."""
        now = time.monotonic()
        if now - self.looked < LOOK:
            return
        self.looked = now
        running = self.cluster.running()
        with self.cluster.speaking():
            there = self.cluster.client.nthreads()
        for worker, member in list(self.members.items()):
            if worker in running:
                member.seen = now
            if worker not in there or now - member.seen > PATIENCE:
                self._lose(worker)
        new = running - self.members.keys()
        if new:
            for worker, process in self.cluster.greeted(new).items():
                self.members[worker] = _Member(process, now)
        if self.members:
            self.worked = now
        elif now - self.worked > PATIENCE:
            raise ClusterError(f"no worker is left at the scheduler {self.cluster.address}. {CARRIES_ON}")

    def hand_out(self) -> None:
        """Keep every worker at work."""
        for worker, member in self.members.items():
            while not member.alone and len(member.in_hand) < IN_HAND:
                index = self._next(member)
                if index is None:
                    break
                study = (self.study.path.name, self.study.text)
                with self.cluster.speaking():
                    future = self.cluster.client.submit(
                        piece, member.process, study, index, workers=[worker], pure=False
                    )
                member.in_hand[future] = index

    def _next(self, member: _Member) -> int | None:
        """The worker's next design; one that was in hand at a death goes to an idle worker, alone."""
        if self.suspects and not member.in_hand:
            member.alone = True
            return self.suspects.popleft()
        if not member.own and self.groups:
            member.own.extend(self.groups.popleft())
        return member.own.popleft() if member.own else None

    def take_in(self) -> None:
        """Wait a moment for results and store them."""
        for worker, future in self._finished():
            member = self.members.get(worker)
            if member is None or future not in member.in_hand:
                continue  # lost with its worker, an instant ago
            content = self._content(worker, future, member.in_hand[future])
            if content is None:
                self._lose(worker)
                continue
            index = member.in_hand.pop(future)
            member.alone = False
            self._store(worker, index, content)

    def _finished(self) -> list[tuple[str, Any]]:
        from distributed import wait

        owners = {future: worker for worker, member in self.members.items() for future in member.in_hand}
        if not owners:
            time.sleep(0.05)
            return []
        with self.cluster.speaking():
            try:
                done = wait(list(owners), timeout=LOOK, return_when="FIRST_COMPLETED").done
            except TimeoutError:
                return []
        return [(owners[future], future) for future in done]

    def _content(self, worker: str, future: Any, index: int) -> bytes | None:
        """What a worker returned; None where it died."""
        from distributed.scheduler import KilledWorker

        with self.cluster.speaking():
            try:
                content: bytes | str | None = future.result(timeout=PATIENCE)
            except KilledWorker:
                return None
            except (ImportError, AttributeError) as fault:  # a worker that lacks our modules
                content = f"{type(fault).__name__}: {fault}"
        if isinstance(content, str):
            name = self.study.design_name(index)
            raise ClusterError(f"the worker at {worker} could not take on {name} ({content}). {CARRIES_ON}")
        return content

    def _store(self, worker: str, index: int, content: bytes) -> None:
        path = piece_path(self.folder, self.study.design_name(index))
        try:
            with whole_file(path) as partial:
                partial.write_bytes(content)
                key, stored = read_record(partial)
                if key != key_of(self.study, index)[0]:
                    raise BrokenPieceError("it was computed from something else")
        except BrokenPieceError as fault:
            raise ClusterError(
                f"what the worker at {worker} returned for {path.stem} cannot be used: {fault}. {CARRIES_ON}"
            ) from fault
        self._count(index, stored.status, stored.seconds)

    def _lose(self, worker: str) -> None:
        """Take back what a dead worker had: designs in hand are tried again alone, at the third death given up."""
        member = self.members.pop(worker)
        if member.own:
            self.groups.appendleft(tuple(member.own))
        self._drop(member)
        for index in member.in_hand.values():
            self.deaths[index] = self.deaths.get(index, 0) + 1
            if self.deaths[index] < MOST_DEATHS:
                self.suspects.append(index)
            else:
                store_death(self.study, self.folder, index, DIED)
                self._count(index, "failed", 0.0)

    def _count(self, index: int, status: str, seconds: float) -> None:
        self.left -= 1
        self.report(index, status, seconds)

    def release(self) -> None:
        """Let go of what is still in hand, however the share-out ended."""
        for member in self.members.values():
            self._drop(member)

    def _drop(self, member: _Member) -> None:
        with suppress(Exception):  # a courtesy to the scheduler, which may be gone
            self.cluster.client.cancel(list(member.in_hand))
