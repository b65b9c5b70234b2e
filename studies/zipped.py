"""Arrays of a zip as numpy writes it, read out of its bytes in memory: no copy, and no second checksum.

numpy's own reader takes ten times longer over a piece: it checks each part by a checksum of its own, and evaluates
each header as Python.
"""

from functools import lru_cache
from io import BytesIO
from typing import Any
from zipfile import ZIP_STORED, ZipFile

import numpy as np
from numpy.lib import format as numpy_format

_LOCAL_HEADER = 30
_NAME_LENGTH = 26
_HEADER_LENGTH = 8
_ENDING = ".npy"


class ZippedArrays:
    """The arrays by name.

    Parameters
    ----------
    content : bytes
        The zip, nothing in it compressed.
    """

    __slots__ = ("_content", "_places")

    def __init__(self, content: bytes) -> None:
        self._content = content
        self._places: dict[str, tuple[int, int]] = {}
        with ZipFile(BytesIO(content)) as file:
            for part in file.infolist():
                if part.compress_type != ZIP_STORED:
                    raise ValueError(f"{part.filename} is compressed")
                at = part.header_offset + _NAME_LENGTH
                lengths = content[at : at + 4]
                skipped = int.from_bytes(lengths[:2], "little") + int.from_bytes(lengths[2:], "little")
                start = part.header_offset + _LOCAL_HEADER + skipped
                self._places[part.filename.removesuffix(_ENDING)] = start, start + part.file_size

    @property
    def names(self) -> list[str]:
        """Names of the arrays, in the order in which they were written."""
        return list(self._places)

    def __getitem__(self, name: str) -> Any:
        """One array, which cannot be written to."""
        start, stop = self._places[name]
        length = int.from_bytes(self._content[start + _HEADER_LENGTH : start + _HEADER_LENGTH + 2], "little")
        begin = start + _HEADER_LENGTH + 2 + length
        shape, fortran, kind = _header(self._content[start:begin])
        values = np.frombuffer(memoryview(self._content)[begin:stop], dtype=kind)
        return values.reshape(shape, order="F" if fortran else "C")


@lru_cache(maxsize=256)
def _header(header: bytes) -> tuple[tuple[int, ...], bool, "np.dtype[Any]"]:
    """Shape, order and kind of number; the same few headers come again in every piece."""
    file = BytesIO(header)
    if numpy_format.read_magic(file) != (1, 0):
        raise ValueError("an array is written in a later way than is read here")
    shape, fortran, kind = numpy_format.read_array_header_1_0(file)
    return tuple(shape), bool(fortran), kind
