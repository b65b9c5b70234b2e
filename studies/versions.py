"""Versions of what computed a result."""

from importlib.metadata import PackageNotFoundError, version


def installed_version(name: str) -> str:
    """Version of an installed distribution; of a checkout that was never installed, just that."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"
