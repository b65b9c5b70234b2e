"""What a set-up can stop with."""


class SetUpError(Exception):
    """A set-up step cannot go on; the text says what to do about it."""
