"""Exceptions of the links.

LinkError    a circuit, a drive or a table of margins that cannot be as described
"""

import numpy as np

from links.quantities import Real


class LinkError(ValueError):
    """A quantity no circuit can have; ``quantity`` names it, ``message`` says what is allowed."""

    def __init__(self, quantity: str, message: str) -> None:
        super().__init__(f"{quantity}: {message}")
        self.quantity = quantity
        self.message = message

    def __reduce__(self) -> tuple[type, tuple[str, str]]:
        return type(self), (self.quantity, self.message)


def require_positive(quantity: str, value: Real) -> None:
    """Raise unless every value is greater than 0; infinity passes, nan does not.

    Raises
    ------
    LinkError
        Where a value is 0, negative or nan.
    """
    # A number by itself is looked at as one: circuits are made a hundred times a design.
    if not (value > 0.0 if isinstance(value, float) else np.all(np.asarray(value) > 0.0)):
        raise LinkError(quantity, f"{value} given; it must be greater than 0")


def require_not_negative(quantity: str, value: Real) -> None:
    """Raise unless every value is finite and at least 0.

    Raises
    ------
    LinkError
        Where a value is negative, infinite or nan.
    """
    values = np.asarray(value)
    if not np.all((values >= 0.0) & np.isfinite(values)):
        raise LinkError(quantity, f"{value} given; it must be finite and at least 0")
