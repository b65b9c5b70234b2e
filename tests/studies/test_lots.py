"""Which worker takes which part of a sweep."""

import pytest

from studies.lots import Lots

GROUPS = [(number,) for number in range(7)]


def taken(lots, worker):
    group = lots.next(worker)
    lots.take(worker)
    return group


def test_two_workers_meet():
    lots = Lots(GROUPS, 2)
    assert [taken(lots, 0) for _ in range(3)] == GROUPS[:3]
    assert [taken(lots, 1) for _ in range(3)] == [(6,), (5,), (4,)]
    assert lots.left() == [(3,)]
    assert taken(lots, 1) == (3,)


def test_a_third_worker_has_a_stretch_of_its_own_and_helps_when_done():
    lots = Lots(GROUPS, 3)
    assert [taken(lots, 2) for _ in range(3)] == [(4,), (5,), (6,)]
    assert taken(lots, 2) == (0,)
    assert taken(lots, 1) == (3,)


@pytest.mark.parametrize("workers", [1, 2, 5, 7])
def test_every_group_is_taken_once(workers):
    lots, found = Lots(GROUPS, workers), []
    while lots:
        found.append(taken(lots, len(found) % workers))
    assert sorted(found) == GROUPS
    assert lots.left() == []


def test_what_is_not_taken_stays():
    lots = Lots(GROUPS, 2)
    lots.next(0)
    assert lots.left() == GROUPS
