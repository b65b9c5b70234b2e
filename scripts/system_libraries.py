"""Finds the shared libraries that the mesher's wheel expects of the system, and brings the ones that are missing.

The wheel is linked against a desktop's graphics libraries, which it needs even where nothing is drawn. A bare
server or container has none of them, and `import gmsh` fails there with one file name at a time.
"""

from __future__ import annotations

import os
import platform
import re
import shutil
import subprocess
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from scripts.errors import SetUpError

Run = Callable[[Sequence[str]], subprocess.CompletedProcess[str]]

# Names that Debian's rule (below) does not give. Looked up in Debian 12's package lists; common to Ubuntu.
PACKAGES = {"libGLU.so.1": "libglu1-mesa", "libz.so.1": "zlib1g"}
INSTALL = ("apt-get", "install", "--yes", "--no-install-recommends")


def run_quietly(command: Sequence[str]) -> subprocess.CompletedProcess[str]:
    """Run a command without a terminal and with untranslated output, and hand back what it printed."""
    environment = os.environ | {"LC_ALL": "C", "DEBIAN_FRONTEND": "noninteractive"}
    return subprocess.run(
        command, env=environment, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False
    )


def say_at_once(line: str) -> None:
    """Print a line before the next command prints its own, even into a pipe."""
    print(line, flush=True)


def is_debian_like() -> bool:
    """Whether this system takes Debian's packages."""
    try:
        release = platform.freedesktop_os_release()
    except OSError:
        return False
    family = {release.get("ID", ""), *release.get("ID_LIKE", "").split()}
    return bool(family & {"debian", "ubuntu"}) and shutil.which("apt-get") is not None


@dataclass(frozen=True, slots=True)
class System:
    """What the set-up may do on this machine.

    Attributes
    ----------
    debian : bool
        Whether apt-get and Debian's package names apply.
    root : bool
        Whether packages can be installed without asking anybody.
    run : Callable
        Runs a command and returns its finished process.
    say : Callable
        Tells the person at the terminal one line.
    """

    debian: bool = field(default_factory=is_debian_like)
    root: bool = field(default_factory=lambda: os.geteuid() == 0)
    run: Run = run_quietly
    say: Callable[[str], None] = say_at_once


def missing_libraries(ldd_output: str) -> tuple[str, ...]:
    """Sonames that `ldd` could not find, each once, in the order met."""
    return tuple(dict.fromkeys(re.findall(r"^\s*(\S+) => not found", ldd_output, flags=re.MULTILINE)))


def package_candidates(library: str) -> tuple[str, ...]:
    """Names that the package of a shared library may have, the likeliest first.

    Parameters
    ----------
    library : str
        Soname, such as ``libXft.so.2``.

    Returns
    -------
    tuple of str
        Package names; empty where the soname has no version to make a name of.

    Notes
    -----
    Debian names a library's package after its soname: lower case, the version appended, with a hyphen between where the
    name ends in a digit. Since 2024 a package rebuilt for 64-bit time may carry ``t64`` at its end (Ubuntu 24.04,
    Debian 13).

    References
    ----------
    Debian Policy Manual, section 8.1, run-time shared libraries; quoted from memory.
    """
    parts = re.fullmatch(r"(.+)\.so\.(\d+)(?:\.\d+)*", library)
    if library in PACKAGES:
        name = PACKAGES[library]
    elif parts is not None:
        stem, version = parts[1].lower().replace("_", "-"), parts[2]
        name = f"{stem}-{version}" if stem[-1].isdigit() else f"{stem}{version}"
    else:
        return ()
    return name, f"{name}t64"


def is_offered(package: str, run: Run) -> bool:
    """Whether apt's lists offer a package under exactly this name."""
    policy = run(("apt-cache", "policy", package)).stdout
    return re.search(r"^\s*Candidate: (?!\(none\))\S", policy, flags=re.MULTILINE) is not None


def packages_for(libraries: Iterable[str], run: Run) -> dict[str, str | None]:
    """The package that brings each library, by apt's lists; None where they offer none."""
    return {
        library: next((name for name in package_candidates(library) if is_offered(name, run)), None)
        for library in libraries
    }


def still_missing(binary: Path, run: Run) -> tuple[str, ...]:
    """Sonames that a binary, or a library that it loads, asks for and the system lacks.

    Raises
    ------
    SetUpError
        If the loader refuses the binary for another reason, such as an older C library.
    """
    result = run(("ldd", str(binary)))
    too_old = re.search(r"version `\S+' not found.*", result.stdout + result.stderr)
    if too_old:
        raise SetUpError(f"This system is too old for {binary.name}: {too_old[0]}")
    return missing_libraries(result.stdout)


def ensure_libraries(binary: Path, system: System) -> None:
    """Bring what a binary lacks, as root on Debian or Ubuntu; otherwise stop with the line to type.

    Parameters
    ----------
    binary : Path
        Shared library as the wheel installed it.
    system : System
        What may be done here.

    Raises
    ------
    SetUpError
        If a library is missing and cannot be installed from here.
    """
    missing = still_missing(binary, system.run)
    if not missing:
        return
    if not system.debian:
        raise SetUpError(
            "The mesher needs shared libraries that this system lacks: " + ", ".join(missing) + ".\n"
            "Install the packages that bring them, then give the same command again."
        )
    packages = packages_for(missing, system.run)
    if not system.root:
        raise SetUpError(
            "The mesher needs shared libraries that this system lacks: " + ", ".join(missing) + ".\n"
            f"Type this line, then give the same command again:\n  {line_to_type(packages)}"
        )
    install(packages, system)
    # A library that was missing hides what it would have asked for in turn; apt brings that too, so none may be left.
    left = still_missing(binary, system.run)
    if left:
        raise SetUpError("After installing the packages these libraries are still missing: " + ", ".join(left) + ".")


def line_to_type(packages: dict[str, str | None]) -> str:
    """The one line that installs the packages; where apt's lists do not know a library it refreshes them first."""
    names = {found or next(iter(package_candidates(library)), library) for library, found in packages.items()}
    refresh = "sudo apt-get update && " if None in packages.values() else ""
    return f"{refresh}sudo apt-get install --no-install-recommends {' '.join(sorted(names))}"


def install(packages: dict[str, str | None], system: System) -> None:
    """Install exactly the packages that bring the missing libraries, refreshing apt's lists only when needed."""
    stale = None in packages.values()
    result = None if stale else apt_install(packages, system)
    if result is None or result.returncode != 0:
        # Lists that are empty or older than the archive, which has since dropped the files they name.
        packages = refreshed(packages, system)
        result = apt_install(packages, system)
    if result.returncode != 0:
        raise SetUpError(
            f"apt-get could not install the packages: {result.stderr.strip()}\n"
            f"Once it can, this line does it:\n  {line_to_type(packages)}"
        )


def apt_install(packages: dict[str, str | None], system: System) -> subprocess.CompletedProcess[str]:
    """One try at installing the packages."""
    names = sorted({name for name in packages.values() if name is not None})
    system.say("Installing system packages for the mesher: " + " ".join(names))
    return system.run((*INSTALL, *names))


def refreshed(packages: dict[str, str | None], system: System) -> dict[str, str | None]:
    """The same libraries looked up again after `apt-get update`."""
    system.say("Refreshing the lists of system packages")
    result = system.run(("apt-get", "update"))
    found = packages_for(packages, system.run)
    unknown = [library for library, name in found.items() if name is None]
    if unknown:
        raise SetUpError(
            "apt offers no package for "
            + ", ".join(unknown)
            + f".\nFind the packages that bring them and install those. {result.stderr.strip()}".rstrip()
        )
    return found
