"""Records of ``run.json`` read back, whatever became of the file."""

from typing import TypeVar

from pydantic import TypeAdapter, ValidationError

from studies.errors import NotARunError

_Kind = TypeVar("_Kind")


def from_info(kind: type[_Kind], record: object, name: str) -> _Kind:
    """A record as the dataclass that it was written from.

    Raises
    ------
    NotARunError
        Where it is of another shape; ``name`` is what ``run.json`` calls it.
    """
    try:
        found: _Kind = TypeAdapter(kind).validate_python(record)
    except ValidationError as fault:
        first = ".".join(map(str, fault.errors()[0]["loc"]))
        raise NotARunError(
            f'run.json: "{name}" holds something of another shape ({first or "the whole of it"}); `trivet run` with '
            "the same study writes it anew"
        ) from None
    return found
