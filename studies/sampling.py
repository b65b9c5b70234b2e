"""``[sampling]``: points spread through the swept ranges, or listed, in place of the product of all their values."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Context
from typing import Literal, get_args

from studies.faults import Finding
from studies.quantities import QuantityError, decimal_text, kind_of, range_ends, read_quantity, shortened
from studies.quantities import quantity_of as quantity_named
from studies.schema_values import Number, Word
from studies.sweep import Axis, Value

TABLE = "sampling"
LARGEST = 1_000_000
Method = Literal["latin hypercube", "sobol", "listed"]
LISTED: Method = "listed"
"""Design n takes the n-th value of every swept list."""

LARGEST_VALUES = 1_000_000
"""Values that all swept keys may take together: ten seconds' work to spread."""

METHODS: tuple[Method, ...] = get_args(Method)

_SIX_DIGITS = Context(prec=6)
_COUNT = Number("designs", 1, LARGEST, whole=True)
_SEED = Number("any, the same one gives the same designs", 0, 2**32 - 1, whole=True)
_ALLOWED = 'method = "latin hypercube" or "sobol", count, and seed (0 where it is left out); or method = "listed" alone'


@dataclass(frozen=True, slots=True)
class Sampling:
    """How many points, spread how, from which seed."""

    method: Method
    count: int
    seed: int

    @property
    def text(self) -> str:
        """In words."""
        if self.method == LISTED:
            return f"{self.count} designs as listed"
        return f"{self.count} points by {self.method}, seed {self.seed}"


def read_sampling(table: object, swept: bool) -> tuple[Sampling | None, tuple[Finding, ...]]:
    """The ``[sampling]`` table of a file; None where it has none, or a faulty one."""
    if table is None:
        return None, ()
    if not isinstance(table, dict):
        return None, (Finding((TABLE,), f"{kind_of(table)} where a table belongs", _ALLOWED),)
    readers: dict[str, Callable[[object], object]] = {
        "method": Word(METHODS).read, "count": _COUNT.read, "seed": _SEED.read,
    }  # fmt: skip
    findings = [Finding((TABLE, key), "is not a key known here", _ALLOWED) for key in table if key not in readers]
    read: dict[str, object] = {"seed": 0}
    if table.get("method") == LISTED:
        findings += [
            Finding((TABLE, key), "is given where designs are listed", _ALLOWED)
            for key in table
            if key in ("count", "seed")
        ]
        read["count"] = 0  # as many as the lists are long
        table = {"method": LISTED}
    for key, reader in readers.items():
        try:
            if key in table:
                read[key] = reader(table[key])
            elif key not in read:
                findings.append(Finding((TABLE, key), "is missing", _ALLOWED))
        except QuantityError as error:
            findings.append(Finding((TABLE, key), error.given, error.allowed, error.hint))
    if not swept:
        findings.append(Finding((TABLE,), "there is no [sweep] to sample", "swept ranges, or no [sampling]"))
    return (None, tuple(findings)) if findings else (Sampling(**read), ())  # type: ignore[arg-type]


def uneven_lists(axes: tuple[Axis, ...]) -> tuple[Finding, ...]:
    """What is wrong with lists that do not go together; the first one's length counts."""
    first = len(axes[0].given) if axes else 0
    return tuple(
        Finding(axis.place, f"{len(axis.given)} values", f"{first}, as {axes[0].key} has: a value a design listed")
        for axis in axes
        if len(axis.given) != first
    )


def too_many_values(sampling: Sampling, axes: tuple[Axis, ...]) -> tuple[Finding, ...]:
    """What is wrong with that many points through that many axes, if anything."""
    if sampling.count * len(axes) <= LARGEST_VALUES:
        return ()
    allowed = f"at most {LARGEST_VALUES // len(axes)} designs, {LARGEST_VALUES} values in all"
    return (Finding((TABLE, "count"), f"{sampling.count} designs with {len(axes)} swept keys each", allowed),)


def sampled(axes: tuple[Axis, ...], sampling: Sampling) -> tuple[Axis, ...]:
    """The axes with as many values as there are points; design n takes the n-th value of each.

    Lists are taken as they are where designs are listed.

    A range gives values anywhere between its ends (whole numbers where both ends are), a list one of its values.
    """
    if sampling.method == LISTED:
        return axes
    points = _points(len(axes), sampling)
    return tuple(_at(axis, [float(u) for u in points[:, column]]) for column, axis in enumerate(axes))


def _points(dimensions: int, sampling: Sampling):  # type: ignore[no-untyped-def]
    """Points of the unit cube, shape (count, dimensions)."""
    # Imported here: it takes a second, and most studies do not sample.
    from numpy.random import default_rng
    from scipy.stats import qmc

    generator = default_rng(sampling.seed)
    if sampling.method == "latin hypercube":
        return qmc.LatinHypercube(dimensions, rng=generator).random(sampling.count)
    # A Sobol sequence is balanced over powers of two: the first points of the next one.
    return qmc.Sobol(dimensions, rng=generator).random_base2((sampling.count - 1).bit_length())[: sampling.count]


def _at(axis: Axis, positions: list[float]) -> Axis:
    if axis.ranged:
        given, values = _within_range(axis, positions)
        return replace(axis, given=given, values=values)
    places = [min(int(u * len(axis.given)), len(axis.given) - 1) for u in positions]
    return replace(
        axis,
        given=tuple(axis.given[place] for place in places),
        values=tuple(axis.values[place] for place in places),
    )


def _within_range(axis: Axis, positions: list[float]) -> tuple[tuple[object, ...], tuple[Value, ...]]:
    """Values of a range as a file would give them, to six digits, and in SI."""
    first, last = axis.given
    if isinstance(first, int) and isinstance(last, int):
        low, high = min(first, last), max(first, last)
        whole = tuple(low + min(int(u * (high - low + 1)), high - low) for u in positions)
        return whole, whole
    low_end, high_end, unit = range_ends(first, last, "a range { from, to }")
    steps = [_SIX_DIGITS.create_decimal_from_float(float(low_end) + u * float(high_end - low_end)) for u in positions]
    if unit is None:
        numbers = tuple(float(step) for step in steps)
        return numbers, numbers
    texts = tuple(f"{decimal_text(step)} {unit}" for step in steps)
    quantity = quantity_named(texts[0])
    if quantity is None:
        raise QuantityError(f"a range from {shortened(first)}", "ends with a unit")
    return texts, tuple(float(read_quantity(text, quantity)) for text in texts)
