"""A candidate's line of ``designs.csv``: names with their units to values."""

Row = dict[str, float | int | str | bool | None]


def number(row: Row, name: str) -> float:
    """A column that always is a number."""
    value = row[name]
    assert isinstance(value, float), f"{name} is a number"
    return value
