"""Exceptions of the geometry.

GeometryError          a thing that cannot be built as described
└── PackingError       turns that do not fit their winding section
MeshingError           a geometry the mesher could not mesh
"""


class GeometryError(ValueError):
    """A thing that cannot be built as described; ``key`` names the part at fault, as a study file spells it."""

    def __init__(self, key: str, message: str) -> None:
        super().__init__(f"{key}: {message}")
        self.key = key
        self.message = message

    def __reduce__(self) -> tuple[type, tuple[str, str]]:
        return type(self), (self.key, self.message)


class PackingError(GeometryError):
    """Turns of a wire that do not fit the section they are to be wound in."""


class MeshingError(RuntimeError):
    """A geometry that passed its checks and still could not be meshed."""
