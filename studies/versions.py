"""Versions of what computed a result."""

from functools import cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

PACKAGES = ("fem", "geometries", "links", "studies")


def installed_version(name: str) -> str:
    """Version of an installed distribution; of a checkout that was never installed, just that."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed"


@cache
def code_digest() -> str:
    """Digest of trivet's own code and tables as they lie on disk."""
    root, digest = Path(__file__).parents[1], sha256()
    for package in PACKAGES:
        for path in sorted((root / package).rglob("*")):
            if path.suffix in (".py", ".toml"):
                digest.update(f"{path.relative_to(root)}\n".encode())
                digest.update(path.read_bytes())
    return digest.hexdigest()
