"""A candidate's file: what goes in comes out, and no damage goes unnoticed."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studies.evaluation import Evaluation
from studies.person_field import base_loops, bench_of, reaches
from studies.pieces import (
    LINE_NAMES,
    LOOP_NAMES,
    MAP_NAMES,
    BrokenPieceError,
    piece_key,
    read_arrays,
    read_record,
    write_piece,
)
from studies.rows import number
from studies.stored import StoredDesign
from tests.studies.conftest import Evaluator


@pytest.fixture(scope="session")
def evaluation(evaluation_of: Evaluator) -> Evaluation:
    return evaluation_of()


@pytest.fixture(scope="session")
def stored(evaluation: Evaluation) -> StoredDesign:
    row = {"design": "c0001", **evaluation.row, "status": "done", "message": ""}
    return StoredDesign(0, "c0001", "done", "", row, evaluation.verdict.checks, evaluation.warnings, ("hot",), 1.25)


@pytest.fixture(scope="session")
def piece(evaluation: Evaluation, stored: StoredDesign, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pieces") / "c0001.npz"
    write_piece(path, "a-key", stored, evaluation)
    return path


def same(one: StoredDesign, other: StoredDesign) -> bool:
    names = ("index", "design", "status", "message", "row", "checks", "warnings", "cautions", "seconds")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def test_a_record_comes_back_to_the_last_bit(piece: Path, stored: StoredDesign) -> None:
    key, found = read_record(piece)
    assert key == "a-key"
    assert same(found, stored)
    assert found.passed == stored.passed


def test_arrays_come_back_to_the_last_bit(piece: Path, evaluation: Evaluation) -> None:
    found = read_arrays(piece)
    for name in MAP_NAMES:
        np.testing.assert_array_equal(getattr(found.map, name), getattr(evaluation.map, name))
    assert len(found.profiles) == len(evaluation.profiles)
    for one, other in zip(found.profiles, evaluation.profiles, strict=True):
        assert (one.label, one.offset, one.tilt) == (other.label, other.offset, other.tilt)
        assert one.window == other.window
        for name in LINE_NAMES:
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))


def test_stored_loops_reach_exactly_as_far_as_the_row_says(piece: Path, evaluation: Evaluation) -> None:
    loops, fresh = read_arrays(piece).loops, base_loops(evaluation.coils.base.field)
    assert loops is not None
    for name in LOOP_NAMES:
        np.testing.assert_array_equal(getattr(loops, name), getattr(fresh, name))
    base, row = evaluation.coils.base, evaluation.row
    bench = bench_of(evaluation.candidate.stack, base.section)
    ampere_turns = base.turns * number(row, "base_current_A")
    found = reaches(loops, base.section, bench, ampere_turns, (27e-6, 100e-6))
    for reach, level in zip(found, ("reference_level", "occupational_level"), strict=True):
        for name in ("distance", "height", "radius"):
            assert getattr(reach, name) == row[f"{level}_{name}_m"]


@pytest.mark.parametrize("value", [float("-inf"), float("inf"), 1e-320, 5e300, 0.1, None, True, 7, "µ Ω « \" '"])
def test_odd_values_of_a_row_survive(value: object, stored: StoredDesign, tmp_path: Path) -> None:
    odd = replace(stored, row=stored.row | {"odd": value})
    write_piece(tmp_path / "odd.npz", "k", odd, None)
    found = read_record(tmp_path / "odd.npz")[1].row["odd"]
    assert found == value
    assert type(found) is type(value)


def test_a_failed_candidate_has_a_record_and_no_arrays(tmp_path: Path) -> None:
    failed = StoredDesign(3, "c0004", "failed", "it does not fit", {"design": "c0004"})
    write_piece(tmp_path / "c0004.npz", "k", failed, None)
    found = read_record(tmp_path / "c0004.npz")[1]
    assert same(found, failed)
    assert not found.passed


@pytest.mark.parametrize("share", [0.0, 1e-4, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.999, 0.9999])
def test_a_piece_cut_short_is_noticed(share: float, piece: Path, tmp_path: Path) -> None:
    whole = piece.read_bytes()
    short = tmp_path / "c0001.npz"
    short.write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(BrokenPieceError, match=r"c0001\.npz: ."):
        read_record(short)


def test_the_last_byte_matters(piece: Path, tmp_path: Path) -> None:
    short = tmp_path / "c0001.npz"
    short.write_bytes(piece.read_bytes()[:-1])
    with pytest.raises(BrokenPieceError):
        read_record(short)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(place=st.floats(0.0, 1.0, exclude_max=True), flip=st.integers(1, 255))
def test_a_changed_byte_is_noticed_wherever_it_lies(place: float, flip: int, piece: Path, tmp_path: Path) -> None:
    content = bytearray(piece.read_bytes())
    content[int(place * len(content))] ^= flip
    changed = tmp_path / "c0001.npz"
    changed.write_bytes(content)
    with pytest.raises(BrokenPieceError, match=r"c0001\.npz"):
        read_record(changed)
    with pytest.raises(BrokenPieceError, match=r"c0001\.npz"):
        read_arrays(changed)


@pytest.mark.parametrize("content", [b"", b"PK", b"no archive at all", b"\x00" * 5000])
def test_what_is_no_piece_is_a_broken_one(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "c0001.npz").write_bytes(content)
    with pytest.raises(BrokenPieceError):
        read_record(tmp_path / "c0001.npz")


def test_an_archive_without_a_record_is_broken(tmp_path: Path) -> None:
    np.savez(tmp_path / "c0001.npz", margin=np.zeros(3))
    with pytest.raises(BrokenPieceError):
        read_record(tmp_path / "c0001.npz")


def test_the_key_follows_all_that_a_candidate_says(evaluation: Evaluation) -> None:
    candidate = evaluation.candidate
    key = piece_key(candidate, "")
    assert piece_key(replace(candidate), "") == key
    assert piece_key(replace(candidate, frequency=134.2001e3), "") != key
    wire = replace(candidate.coil.wire, temperature=candidate.coil.wire.temperature + 1.0)
    assert piece_key(replace(candidate, coil=replace(candidate.coil, wire=wire)), "") != key
    assert piece_key(None, "one") != piece_key(None, "other")


def test_the_key_knows_no_name(evaluation: Evaluation) -> None:
    candidate = evaluation.candidate
    assert piece_key(replace(candidate, design="c0007", swept=(("base_coil.turns", 3),)), "") == piece_key(
        candidate, ""
    )
