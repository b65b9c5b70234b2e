"""How the benchmark divides a design's time: each second belongs to one part."""

import pytest

from benchmarks import solve_cost
from benchmarks.solve_cost import FACTORISATION, Stopwatch


def test_the_innermost_part_takes_the_time(monkeypatch):
    clock = iter([0.0, 1.0, 3.0, 7.0, 8.0, 20.0])
    monkeypatch.setattr(solve_cost.time, "process_time", lambda: next(clock))
    watch = Stopwatch()
    inner = watch.timed("inner", lambda: None)
    with watch.running("outer"):
        inner()
        inner()
    assert watch.seconds == {"outer": 1.0 + 4.0 + 12.0, "inner": 2.0 + 1.0}


def test_a_part_that_fails_is_left_again():
    watch = Stopwatch()
    with pytest.raises(ZeroDivisionError):
        watch.timed("broken", lambda: 1 / 0)()
    assert watch._running == []


@pytest.mark.slow
def test_a_designs_time_is_divided_among_all_its_parts():
    found = solve_cost._in_new_process("culture-bench", 1)
    parts = found["parts"]
    named = {*solve_cost.METHODS, *solve_cost.SYSTEM, *solve_cost.FUNCTIONS, "everything else"}
    assert set(parts) == named  # none has been renamed away
    assert sum(parts.values()) == pytest.approx(found["seconds"], rel=1e-12, abs=0.0)
    assert found["share of the factorisation"] == pytest.approx(parts[FACTORISATION] / found["seconds"], rel=1e-12)
    assert set(found["solves"]) == set(solve_cost.SOLVES)
    assert 0.0 < sum(found["solves"].values()) < found["seconds"]
