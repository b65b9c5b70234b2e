"""The search itself: what to try next, and which of what was tried nothing beats."""

import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from studies.findings import number
from studies.pick_space import Point, Space
from studies.stored import StoredDesign

BATCH = 8
"""Candidates computed between two looks at what came out: the same for any number of workers, so that a seed gives
the same search."""

STARTS = 0.25
"""Share of the tries that is spread through the space before the search draws on what came out."""

POLISH = 0.3
"""Share of the tries that is kept for the neighbours of the best ones."""

PARTS = (8, 16, 32, 64)
"""Steps to a neighbour: the longest axis over these, and one."""

ASKED = 20
"""Proposals already known, in a row, after which the search turns to neighbours."""

WORST_MARGIN = -60.0
"""What a candidate counts as that could not be computed, or whose tag picks up nothing [dB]."""

MOST_POWER = 1e3
"""The same for its input power [W]."""

Solve = Callable[[Sequence[int]], list[StoredDesign]]
"""Computes candidates of the space by their numbers."""


@dataclass(frozen=True, slots=True)
class Aims:
    """What the search holds a candidate to: worst-state margin [dB], input power [W], and what it misses.

    ``missed`` is the sum of all shortfalls, relative to what is required, 0 where all is met; 2 and more where it
    could not be computed.
    """

    margin: float
    power: float
    missed: float

    @property
    def met(self) -> bool:
        """Whether it meets every requirement."""
        return self.missed == 0.0

    def beats(self, other: "Aims") -> bool:
        """Whether it is as good in both and better in one, both meeting the requirements."""
        return (
            self.margin >= other.margin
            and self.power <= other.power
            and (self.margin, self.power) != (other.margin, other.power)
        )


def aims(stored: StoredDesign) -> Aims:
    """Of a candidate as computed."""
    if stored.status != "done":
        return Aims(WORST_MARGIN, MOST_POWER, 2.0)
    margin, power = number(stored, "margin_dB"), number(stored, "input_power_W")
    missed = sum(check.shortfall if check.got is not None else 1.0 for check in stored.failures)
    return Aims(
        WORST_MARGIN if margin is None else max(margin, WORST_MARGIN), MOST_POWER if power is None else power, missed
    )


def front(tried: Sequence[StoredDesign]) -> tuple[StoredDesign, ...]:
    """Those that meet the requirements and that none beats in both margin and power, most margin first."""
    met = sorted(((aims(one), one) for one in tried if one.passed), key=lambda pair: (-pair[0].margin, pair[0].power))
    kept: list[tuple[Aims, StoredDesign]] = []
    for aim, one in met:
        if not kept or aim.power < kept[-1][0].power:
            kept.append((aim, one))
    return tuple(one for _, one in kept)


def nearest(tried: Sequence[StoredDesign], count: int) -> tuple[StoredDesign, ...]:
    """Those computed that miss what is required by the least."""
    done = sorted((one for one in tried if one.status == "done"), key=lambda one: (aims(one).missed, -aims(one).margin))
    return tuple(done[:count])


def search(space: Space, solve: Solve, tries: int, seed: int) -> tuple[StoredDesign, ...]:
    """Candidates tried, in the order in which they were.

    Parameters
    ----------
    space : Space
        What may be tried.
    solve : callable
        Computes what it is given; it is never given a number twice.
    tries : int
        How many candidates to compute; all of the space where it has no more.
    seed : int
        The same one gives the same search.
    """
    if tries >= space.count:
        numbers = range(space.count)
        return tuple(one for at in range(0, space.count, BATCH) for one in solve(numbers[at : at + BATCH]))
    hunt = _Hunt(space, solve, tries, seed)
    hunt.explore(POLISH * tries)
    hunt.polish(hunt.ends)
    hunt.polish(hunt.front)
    hunt.explore(0.0)
    return tuple(hunt.tried.values())


class _Hunt:
    """A search on its way."""

    def __init__(self, space: Space, solve: Solve, tries: int, seed: int) -> None:
        self.space, self.solve, self.tries = space, solve, tries
        self.tried: dict[int, StoredDesign] = {}
        self.study = _ask_and_tell(tries, seed)

    @property
    def left(self) -> int:
        return self.tries - len(self.tried)

    def explore(self, spare: float) -> None:
        """Ask the library what to try, and tell it what came out, until so many tries are left."""
        while self.left > spare:
            asked = self._asked(min(BATCH, self.left))
            if not asked:
                return
            self._try([index for _, index in asked])
            for trial, index in asked:
                self._tell(trial, self.tried[index])

    def polish(self, around: Callable[[], Sequence[int]]) -> None:
        """Try the neighbours of some of the best, from far to near, for as long as that changes which they are."""
        for reach in self._reaches():
            improved = True
            while improved and self.left:
                improved = False
                before = around()
                untried = self._neighbours(before, reach)
                for at in range(0, len(untried), BATCH):
                    self._try(untried[at : at + BATCH][: self.left])
                    improved = around() != before
                    if improved or not self.left:
                        break

    def ends(self) -> tuple[int, ...]:
        """The front's ends: most margin and least power; the nearest one where there is no front."""
        best = self.front()
        return tuple(dict.fromkeys((best[0], best[-1]))) if best else ()

    def front(self) -> tuple[int, ...]:
        """The whole front, or the nearest one where there is none."""
        tried = tuple(self.tried.values())
        return tuple(one.index for one in front(tried) or nearest(tried, 1))

    def _reaches(self) -> tuple[int, ...]:
        """Steps from an eighth of the longest axis down to one."""
        longest = max(self.space.sizes)
        return tuple(dict.fromkeys((*(longest // part for part in PARTS if longest // part), 1)))

    def _try(self, indices: Sequence[int]) -> None:
        self.tried |= {one.index: one for one in self.solve(indices)}

    def _neighbours(self, around: Sequence[int], reach: int) -> list[int]:
        points = [self.space.point(index) for index in around]
        found = [self.space.index(other) for point in points for other in self.space.neighbours(point, reach)]
        return [index for index in dict.fromkeys(found) if index not in self.tried]

    def _asked(self, count: int) -> list[tuple[Any, int]]:
        asked: dict[int, Any] = {}
        known = 0
        while len(asked) < count and known < ASKED:
            trial = self.study.ask()
            index = self.space.index(self._point(trial))
            if index in asked or index in self.tried:
                known += 1
                if index in self.tried:
                    self._tell(trial, self.tried[index])
                continue
            asked[index] = trial
        return [(trial, index) for index, trial in asked.items()]

    def _point(self, trial: Any) -> Point:
        places = []
        for number_, (size, ordered) in enumerate(zip(self.space.sizes, self.space.ordered, strict=True)):
            name = str(number_)
            place = trial.suggest_int(name, 0, size - 1) if ordered else trial.suggest_categorical(name, range(size))
            places.append(int(place))
        return tuple(places)

    def _tell(self, trial: Any, one: StoredDesign) -> None:
        aim = aims(one)
        trial.set_constraint("missed", aim.missed)
        self.study.tell(trial, (aim.margin, aim.power))


def _ask_and_tell(tries: int, seed: int) -> Any:
    """The library's search; its warnings of what is experimental are for us, not for a designer."""
    import optuna

    optuna.logging.set_verbosity(optuna.logging.WARNING)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", optuna.exceptions.ExperimentalWarning)
        sampler = optuna.samplers.TPESampler(
            n_startup_trials=max(int(STARTS * tries), 2 * BATCH), multivariate=True, constant_liar=True, seed=seed
        )
    return optuna.create_study(directions=("maximize", "minimize"), sampler=sampler)
