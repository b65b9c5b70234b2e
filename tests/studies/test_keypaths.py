"""Key paths."""

import pytest

from studies.keypaths import label, removed, replaced, resolved, split_key_path, value_at
from studies.quantities import QuantityError

RAW: dict[str, object] = {"layers": [{"name": "plate"}, {"name": "heater", "pitch": "4 mm"}], "coil": {"turns": 3}}


def test_splits() -> None:
    assert split_key_path("a.b-c.d_1") == ("a", "b-c", "d_1")
    assert split_key_path('sweep."a.b"') == ("sweep", "a.b")
    assert split_key_path("layers.lower plate.pitch") == ("layers", "lower plate", "pitch")


@pytest.mark.parametrize("text", ["", ".", "a.", ".a", "a..b", 'a."b', "a.'b"])
def test_refuses_what_is_no_path(text: str) -> None:
    with pytest.raises(QuantityError, match="is no key path"):
        split_key_path(text)


def test_lists_by_name_and_by_place() -> None:
    assert resolved(RAW, ("layers", "heater", "pitch")) == ("layers", 1, "pitch")
    assert resolved(RAW, ("layers", "1", "pitch")) == ("layers", 1, "pitch")
    assert resolved(RAW, ("coil", "new", "key")) == ("coil", "new", "key")


@pytest.mark.parametrize(
    ("keys", "text"),
    [
        (("layers", "heatr", "pitch"), "layers has no heatr; one of plate, heater; did you mean layers.heater"),
        (("layers", "2", "pitch"), "layers has no 2; one of plate, heater"),
        (("coil", "turns", "x"), "coil.turns has no part x: it is one value"),
    ],
)
def test_refuses_entries_that_are_not_there(keys: tuple[str, ...], text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        resolved(RAW, keys)
    assert text in str(caught.value)


def test_changed_copies_leave_the_original_alone() -> None:
    changed = replaced(RAW, ("layers", 1, "pitch"), "5 mm")
    assert value_at(changed, ("layers", 1, "pitch")) == "5 mm"
    assert value_at(RAW, ("layers", 1, "pitch")) == "4 mm"
    assert value_at(replaced(RAW, ("a", "b"), 1), ("a", "b")) == 1
    assert removed(RAW, ("coil", "turns"))["coil"] == {}
    assert RAW["coil"] == {"turns": 3}


def test_label_names_entries() -> None:
    assert label(RAW, ("layers", 1, "pitch")) == "layers.heater.pitch"
    assert label(RAW, ("places", 0, "tilt")) == "places.0.tilt"
