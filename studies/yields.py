"""How many built units meet what is required, how sure that is, and which spread costs the most."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fem.arrays import Array
from studies.engine import carry_out, plan
from studies.errors import RunError
from studies.files import RESULTS
from studies.progress import progress
from studies.spread import Spread
from studies.spread_units import Units, units_of
from studies.store import claimed, layout, prepare, read_run, study_hash, write_info
from studies.stored import StoredDesign
from studies.storing import storing
from studies.study import Study
from studies.verdict import QUANTITIES

CONFIDENCE = 0.95

FITTED, RETUNED, PAGE, TABLE = "as-fitted", "retuned", "yield.html", "units.csv"
OURS = (FITTED, RETUNED, PAGE, TABLE)
"""What a folder of units holds."""

LEAST_FOR_SHARES = 64
"""Units below which shares of variance are not worked out: their own error would be as large."""

LOWEST_MARGIN = -60.0
"""What a unit counts as whose tag picks up nothing [dB]."""


@dataclass(frozen=True, slots=True)
class Yield:
    """Units that meet all that is required.

    ``low`` and ``high`` hold the true share with `CONFIDENCE`, by Clopper and Pearson's exact interval for independent
    draws.
    """

    passed: int
    count: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Of the units drawn [1]."""
        return self.passed / self.count


@dataclass(frozen=True, slots=True)
class Missed:
    """How many units miss one requirement, in words."""

    label: str
    quantity: str
    count: int


@dataclass(frozen=True, slots=True)
class Share:
    """The share of a quantity's variance that one spread brings about by itself, and the half width of its interval."""

    spread: Spread
    first: float
    error: float


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Units of one kind as computed: yield, requirements missed (most often first), shares of variance by quantity."""

    units: tuple[StoredDesign, ...]
    found: Yield
    missed: tuple[Missed, ...]
    shares: dict[str, tuple[Share, ...]]

    @property
    def telling(self) -> str:
        """The quantity whose spread matters: of the requirement that is missed most often, else the margin."""
        known = [one.quantity for one in self.missed if one.quantity in self.shares]
        return known[0] if known else next(iter(self.shares), "")


@dataclass(frozen=True, slots=True, eq=False)
class Yields:
    """What came of building units."""

    study: Study
    design: str
    units: Units
    fitted: Batch
    retuned: Batch


def yield_of(passed: int, count: int) -> Yield:
    """A yield with its interval."""
    from scipy.stats import binomtest

    interval = binomtest(passed, count).proportion_ci(CONFIDENCE, "exact")
    return Yield(passed, count, float(interval.low), float(interval.high))


def yields_folder(study: Study, design: str, count: int, seed: int) -> Path:
    """``results/<study>/yield-…``, named after the study, its design and the draw."""
    return RESULTS / study.name / f"yield-{study_hash(study)[:10]}-{design}-{count}-{seed}"


def yields(study: Study, design: str | None, folder: Path, workers: int, draw: tuple[int, int]) -> Yields:
    """Draw units of a design, compute each as fitted and retuned, and count.

    Parameters
    ----------
    study : Study
        With spreads and requirements.
    design : str or None
        Name of a candidate; None is the base design.
    folder : Path
        Of the units; what an interrupted call has stored there is taken over.
    workers : int
        Processes.
    draw : tuple of two int
        Units and seed.

    Raises
    ------
    RunError
        Where there is nothing to draw, nothing required, no such design, or the folder is taken.
    """
    if not study.spreads:
        raise RunError(
            f"{study.name} has no [spread]: name what differs from unit to unit, as in "
            '"base_coil.mean_diameter" = { normal = "0.2 mm" }'
        )
    require = study.base.require
    if not (require.places or require.at_least or require.at_most):
        raise RunError(f"{study.name} requires nothing, so every unit would pass: say what under [require]")
    count, seed = draw
    index = _index_of(study, design)
    with storing(folder), claimed(folder, OURS):
        units = units_of(study, index, count, seed)
        batches = [
            batch_of(study, units, _computed(one, folder / name, workers, f"{study.name}, {name}"))
            for name, one in ((FITTED, units.fitted), (RETUNED, units.retuned))
        ]
    return Yields(study, design or study.base.design, units, *batches)


def _index_of(study: Study, design: str | None) -> int | None:
    if design in (None, study.base.design):
        return None
    for index in range(study.count):
        if study.design_name(index) == design:
            return index
    first, last = study.design_name(0), study.design_name(study.count - 1)
    raise RunError(f'no design of {study.name} is called "{design}"; {first} to {last} are')


def _computed(study: Study, folder: Path, workers: int, what: str) -> tuple[StoredDesign, ...]:
    """Every unit of a study, each stored before it counts."""
    with storing(folder), claimed(folder):
        prepare(folder, study, fresh=False)
        todo = plan(study, folder)
        if todo.count:
            with progress(todo.count, what) as count:
                carry_out(study, folder, todo, workers, count)
        info = {"study": study.name, "study_hash": study_hash(study), "status": "complete", **layout()}
        write_info(folder, info)
        return read_run(folder).designs


def batch_of(study: Study, units: Units, computed: Sequence[StoredDesign]) -> Batch:
    """Count what passes, and say what brings the differences about."""
    passed = sum(one.passed for one in computed)
    missed = sorted(_missed(computed), key=lambda one: -one.count)
    done = [place for place, one in enumerate(computed) if one.status == "done"]
    shares = {}
    for quantity in dict.fromkeys(check.quantity for place in done[:1] for check in computed[place].checks):
        values = np.array([_got(computed[place], quantity) for place in done])
        if len(done) >= LEAST_FOR_SHARES and np.all(np.isfinite(values)) and np.ptp(values) > 0.0:
            first, error = variance_shares(units.draws[done], values)
            shares[quantity] = tuple(
                Share(*one) for one in zip(study.spreads, map(float, first), map(float, error), strict=True)
            )
    return Batch(tuple(computed), yield_of(passed, len(computed)), tuple(missed), shares)


def _missed(computed: Sequence[StoredDesign]) -> list[Missed]:
    labels: dict[str, tuple[str, int]] = {}
    for one in computed:
        for check in one.failures:
            shown = QUANTITIES[check.quantity]
            words = "at least" if check.bound == "at_least" else "at most"
            label = f"{shown.label} {words} {check.required * shown.factor:.3g} {shown.unit}"
            labels[check.quantity] = label, labels.get(check.quantity, (label, 0))[1] + 1
    failed = sum(one.status == "failed" for one in computed)
    found = [Missed(label, quantity, count) for quantity, (label, count) in labels.items()]
    return found + ([Missed("it can be built or computed", "", failed)] if failed else [])


def _got(stored: StoredDesign, quantity: str) -> float:
    got = next(check.got for check in stored.checks if check.quantity == quantity)
    return 0.0 if got is None else max(got, LOWEST_MARGIN)


def variance_shares(draws: Array, values: Array) -> tuple[Array, Array]:
    """First-order shares of variance by random-balance designs, and half the width of their intervals.

    Parameters
    ----------
    draws : ndarray, shape (n_unit, n_spread)
        Independent, evenly distributed in 0 to 1.
    values : ndarray, shape (n_unit,)
        What came out.

    Returns
    -------
    tuple of two ndarray, shape (n_spread,)
        Shares [1], the bias of a finite sample taken off, and their half widths at `CONFIDENCE` by resampling.

    Notes
    -----
    S. Tarantola, D. Gatelli and T. A. Mara, "Random balance designs for the estimation of first order global
    sensitivity indices", Reliability Engineering & System Safety 91 (2006), as SALib has it; citation from memory.
    """
    from SALib.analyze import rbd_fast

    names = [str(number) for number in range(draws.shape[1])]
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    found = rbd_fast.analyze(problem, draws, values, M=6, num_resamples=100, conf_level=CONFIDENCE, seed=1)
    return np.asarray(found["S1"]), np.asarray(found["S1_conf"])
