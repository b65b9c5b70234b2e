"""Values set on the command line, ``key=value``, over what the file says."""

import tomllib
from collections.abc import Sequence

from studies.faults import Finding, KeyPath
from studies.keypaths import Raw, resolved, split_key_path
from studies.quantities import QuantityError, shortened
from studies.states import TABLE, states_path, with_state
from studies.sweep import Axis, with_value


def with_overrides(raw: Raw, overrides: tuple[str, ...]) -> tuple[Raw, tuple[KeyPath, ...], tuple[Finding, ...]]:
    """A file's tables with values set over them.

    Parameters
    ----------
    raw : dict
        As read, ``sweep`` included.
    overrides : tuple of str
        Such as ``base_coil.turns=64``, ``base_coil.mean_diameter=50 mm`` or ``map.tilt=[0 deg, 20 deg]``. A key that
        excludes another (``turns`` and ``inductance``) takes its place; ``temperatures=hot`` takes one of the states.

    Returns
    -------
    dict
        A changed copy.
    tuple of KeyPath
        What was set.
    tuple of Finding
        Settings that could not be read.
    """
    paths: list[KeyPath] = []
    findings: list[Finding] = []
    for override in overrides:
        key, equals, text = override.partition("=")
        try:
            if not equals:
                raise QuantityError(f'"{shortened(override)}" sets nothing', "key=value, as in base_coil.turns=64")
            keys = split_key_path(key)
            raw, set_paths = _with_setting(raw, keys, _value(text.strip()))
            paths += set_paths
        except QuantityError as error:
            findings.append(Finding((key.strip(),), error.given, error.allowed, error.hint))
    return raw, tuple(paths), tuple(findings)


def swept_over(overrides: tuple[str, ...], axes: Sequence[Axis]) -> tuple[str, ...]:
    """What is set for the base design alone, since the sweep gives the candidates values of its own."""
    told = []
    for override in overrides:
        keys = split_key_path(override.partition("=")[0])
        for axis in axes:
            if ".".join(keys) == axis.key or tuple(keys) == axis.path:
                told.append(
                    f"{axis.key} is swept: what was set holds for the base design alone. To sweep other values, "
                    f'say --set "sweep.{axis.key}=[ ... ]".'
                )
    return tuple(told)


def _with_setting(raw: Raw, keys: tuple[str, ...], value: object) -> tuple[Raw, tuple[KeyPath, ...]]:
    if keys == (TABLE,) and isinstance(value, str):
        return with_state(raw, value)
    if keys[0] == "sweep":
        path = _sweep_path(keys)
    else:
        path = states_path(raw, keys) if keys[0] == TABLE else resolved(raw, keys)
    return with_value(raw, path, value), (path,)


def _sweep_path(keys: tuple[str, ...]) -> KeyPath:
    """An axis is one key of the sweep's table, dots included."""
    return ("sweep", ".".join(keys[1:])) if len(keys) > 1 else keys


def _value(text: str) -> object:
    """A TOML value, or else a plain text; in a list the texts need no quotation marks either."""
    try:
        read = tomllib.loads(f"value = {text}")
        if set(read) == {"value"}:
            value: object = read["value"]
            return value
    except (ValueError, RecursionError):
        pass
    if text.startswith("[") and text.endswith("]") and not set("[]{}") & set(text[1:-1]):
        return [_value(part.strip()) for part in text[1:-1].split(",") if part.strip()]
    if text.startswith(("[", "{")):
        allowed = 'TOML, with the texts inside a table in quotation marks, as in { from = "20 mm" }'
        raise QuantityError(f"{shortened(text)} cannot be read", allowed)
    return text
