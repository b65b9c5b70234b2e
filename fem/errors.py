"""Exceptions of the field solver.

FieldError            a solve that cannot be trusted
└── AccuracyError     refinement ended before the wanted accuracy was met
"""


class FieldError(RuntimeError):
    """A field solve that cannot be trusted; the text names the residual or the place, and the setting to change."""


class AccuracyError(FieldError):
    """Refinement ended before the estimated error met the wanted accuracy."""
