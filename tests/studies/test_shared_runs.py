"""Runs whose coils share a factorisation: the same to the bit in any order and on any worker."""

from pathlib import Path

import numpy as np
import pytest

from fem.coil_family import FamilyCoil, coil_family
from fem.tag_over_stack import tag_over_stack
from studies import shared_field
from studies.pieces import Content
from studies.running import run_study
from studies.solving import solved_base
from studies.store import claimed, piece_path, prepare
from studies.study import Study, read_study
from studies.work import compute_one
from tests.studies.small import SMALL

FOIL = """
[[layers]]
name = "foil"
kind = "foil"
material = "aluminium"
thickness = "0.05 mm"
outer_diameter = "120 mm"

[base_coil]"""

SHARED = (
    SMALL.replace("accuracy = 0.02", 'accuracy = 0.01\nformulation = "reaction field"')
    .replace("\n[base_coil]", FOIL, 1)
    .replace('"base_coil.turns" = [40, 60, 300]', '"base_coil.radial_build" = ["3 mm", "4 mm", "5 mm"]')
)
"""Six coils between plate and foil."""


@pytest.fixture
def study(tmp_path: Path) -> Study:
    path = tmp_path / "shared.toml"
    path.write_text(SHARED, encoding="utf-8")
    return read_study(path)


def forget() -> None:
    """What this process has solved for cells already."""
    for known in (shared_field._family, coil_family, tag_over_stack):
        known.cache_clear()


@pytest.mark.slow
def test_the_same_to_the_bit_in_any_order_on_any_worker(study: Study, tmp_path: Path) -> None:
    assert all(isinstance(solved_base(candidate).field, FamilyCoil) for candidate in study.candidates())
    folders = [tmp_path / name for name in ("one", "two", "backwards")]
    for workers, folder in enumerate(folders[:2], start=1):
        run_study(study, folder, workers, fresh=False)
    forget()
    with claimed(folders[2]):
        prepare(folders[2], study, fresh=False)
        for index in reversed(range(study.count)):
            compute_one(study, folders[2], index)
    for index in range(study.count):
        one, *others = (Content.read(piece_path(folder, study.design_name(index))) for folder in folders)
        for other in others:
            assert {**other.record, "seconds": 0} == {**one.record, "seconds": 0}
            for name in set(one.names) - {"record"}:
                np.testing.assert_array_equal(other[name], one[name])
