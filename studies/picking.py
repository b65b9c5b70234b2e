"""From a study to picks: the search through its space, then each pick solved again in full."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from studies.files import RESULTS
from studies.outputs import INFO
from studies.pick_search import aims, front, nearest, search
from studies.pick_space import Space, space_of
from studies.pick_work import Solver
from studies.progress import progress
from studies.running import run_study
from studies.store import claimed, read_info, study_hash
from studies.stored import Run, StoredDesign
from studies.storing import storing
from studies.study import Study, study_of
from studies.tomltext import toml_text

FOUND, RUN, PAGE, TABLE = "tries", "run", "pick.html", "tries.csv"
"""What a search's folder holds: what was tried, the run of the picks, the page, and the tries as a table."""

OURS = (FOUND, RUN, PAGE, TABLE)

NEAREST = 3
"""Candidates solved in full where none meets what is required."""


@dataclass(frozen=True, slots=True, eq=False)
class Picked:
    """What came of a search.

    Parameters
    ----------
    space : Space
        What was searched.
    tried : tuple of StoredDesign
        In the order in which they were.
    picks : tuple of StoredDesign
        As the search found them: the front, most margin first; the nearest ones where none meets what is required.
    run : Run
        The same, in the same order, solved again in full.
    taken_over : int
        Tries that an earlier, interrupted search had stored.
    """

    space: Space
    tried: tuple[StoredDesign, ...]
    picks: tuple[StoredDesign, ...]
    run: Run
    taken_over: int

    @property
    def met(self) -> bool:
        """Whether some candidate meets every requirement, solved in full."""
        return any(stored.passed for stored in self.run.designs)

    def at_ends(self, stored: StoredDesign) -> tuple[str, ...]:
        """Swept ranges at an end of which a pick lies, so that a wider one may hold a better."""
        places = zip(self.space.study.swept_axes, self.space.point(stored.index), self.space.ordered, strict=True)
        return tuple(axis.key for axis, place, ordered in places if ordered and place in (0, len(axis.values) - 1))


def pick_folder(study: Study, tries: int, seed: int) -> Path:
    """``results/<study>/pick-…``, named after what is searched and how."""
    return RESULTS / study.name / f"pick-{study_hash(study)[:10]}-{tries}-{seed}"


def picked(study: Study, folder: Path, workers: int, search_for: tuple[int, int], picks: int) -> Picked:
    """Search a study's space and solve the best candidates again in full.

    Parameters
    ----------
    study : Study
        Its ``[sweep]`` is the space.
    folder : Path
        Of the search; what an interrupted one has stored there is taken over.
    workers : int
        Processes.
    search_for : tuple of two int
        Candidates to compute, and the seed.
    picks : int
        At most so many of the front.

    Raises
    ------
    RunError
        Where nothing is swept, or the folder cannot be written.
    """
    tries, seed = search_for
    space = space_of(study, tries)
    with storing(folder), claimed(folder, OURS):
        (folder / FOUND).mkdir(exist_ok=True)
        total = min(tries, space.count)
        what = f"{study.name}, search"
        with progress(total, what) as count, Solver(space, tries, folder / FOUND, workers, count) as solver:
            tried = search(space, solver, tries, seed)
            taken_over = solver.taken_over
        chosen = spread(front(tried), picks) or nearest(tried, min(NEAREST, picks))
    if not chosen:
        return Picked(space, tried, (), Run(folder, study, (), {}), taken_over)
    last = listed_study(space, chosen)
    outcome = run_study(last, folder / RUN, workers, fresh=_holds_other(folder / RUN, last))
    return Picked(space, tried, chosen, outcome.run, taken_over)


def _holds_other(folder: Path, study: Study) -> bool:
    """Whether the picks of another search are in the way: with other tries, or by code of before."""
    return (folder / INFO).exists() and read_info(folder).get("study_hash") != study_hash(study)


def spread(candidates: Sequence[StoredDesign], count: int) -> tuple[StoredDesign, ...]:
    """At most ``count`` of a front: both ends, and those between that part the power evenly by ratio."""
    if len(candidates) <= count:
        return tuple(candidates)
    from math import log

    powers = [log(aims(one).power) for one in candidates]
    kept = [0, len(candidates) - 1]
    while len(kept) < count:
        apart = {
            place: min(abs(powers[place] - powers[other]) for other in kept)
            for place in range(len(candidates))
            if place not in kept
        }
        kept.append(max(apart, key=lambda place: apart[place]))
    return tuple(candidates[place] for place in sorted(kept)[:count])


def listed_study(space: Space, chosen: Sequence[StoredDesign]) -> Study:
    """A study of candidates of the space and no others, each field solved by itself."""
    whole = tomllib.loads(space.study.text)
    points = [space.point(stored.index) for stored in chosen]
    whole["sweep"] = {
        axis.key: [axis.given[point[number_]] for point in points]
        for number_, axis in enumerate(space.study.swept_axes)
    }
    whole["sampling"] = {"method": "listed"}
    whole["study"]["formulation"] = "total field"
    return study_of(toml_text(whole), space.study.path)
