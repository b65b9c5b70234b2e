"""Errors of the links carry their parts and survive a process border."""

import pickle

import pytest

from links.errors import LinkError, require_not_negative, require_positive


def test_an_error_keeps_its_parts_through_pickling() -> None:
    error = pickle.loads(pickle.dumps(LinkError("supply", "0 V given")))
    assert (error.quantity, error.message, str(error)) == ("supply", "0 V given", "supply: 0 V given")


def test_what_passes_and_what_does_not() -> None:
    require_positive("load", float("inf"))
    require_not_negative("load", 0.0)
    with pytest.raises(LinkError):
        require_positive("load", 0.0)
    with pytest.raises(LinkError):
        require_not_negative("load", float("nan"))
