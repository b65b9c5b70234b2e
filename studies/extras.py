"""Packages that only some files need: loaded when one is asked for, told by their extra's name where missing."""

from importlib import import_module
from typing import Any

from studies.errors import RunError


def needed(module: str, wanted: str, extra: str = "export") -> Any:
    """The module of that name.

    Raises
    ------
    RunError
        Where it is not installed.
    """
    try:
        return import_module(module)
    except ImportError as fault:
        raise RunError(f'{wanted} needs the package {module}: pip install "trivet[{extra}]"') from fault
