"""Arrays read out of a zip in memory are those that numpy's own reader gives."""

from io import BytesIO

import numpy as np
import pytest

from studies.zipped import ZippedArrays

ARRAYS = {
    "cube": np.arange(24.0).reshape(2, 3, 4),
    "columns": np.asfortranarray(np.arange(6.0).reshape(2, 3)),
    "complex": np.array([1.0 + 2.0j, np.nan]),
    "one": np.array(3.5),
    "none": np.zeros((0, 4)),
    "bytes": np.frombuffer(b"{}", dtype=np.uint8),
    "long_" + "name_" * 60: np.array([True, False]),
}


def zipped(save: object = np.savez) -> bytes:
    file = BytesIO()
    save(file, **ARRAYS)  # type: ignore[operator]
    return file.getvalue()


def test_every_array_comes_back_in_kind_shape_and_value() -> None:
    content = zipped()
    found, numpys = ZippedArrays(content), np.load(BytesIO(content))
    assert found.names == list(numpys.files) == list(ARRAYS)
    for name in found.names:
        assert found[name].dtype == numpys[name].dtype
        assert found[name].shape == numpys[name].shape
        np.testing.assert_array_equal(found[name], numpys[name])


def test_what_numpy_would_not_have_written_so_is_refused() -> None:
    with pytest.raises(ValueError, match="is compressed"):
        ZippedArrays(zipped(np.savez_compressed))
    with pytest.raises(KeyError):
        ZippedArrays(zipped())["nothing"]
