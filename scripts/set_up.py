"""Makes the environment `.venv`, once, from the lock; run by the Makefile through set-up.sh.

Each finished step is written down in `.venv/set-up.json`, and only when it is finished: what was interrupted is done
again. The record holds digests of the files rather than their times, since a checkout touches times without a change.
"""

from __future__ import annotations

import fcntl
import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from scripts.errors import SetUpError
from scripts.system_libraries import System, ensure_libraries

USES_MESHER = "import gmsh; gmsh.initialize(); gmsh.finalize()"


def call(command: Sequence[str]) -> None:
    """Run a command and let it print; a failure ends the set-up."""
    result = subprocess.run(command, stdin=subprocess.DEVNULL, check=False)
    if result.returncode != 0:
        raise SetUpError(f"This command failed, see above: {' '.join(command)}")


def interpreter_version(python: Path) -> str | None:
    """Version of an interpreter, as ``3.12``; None where it does not run."""
    command = (str(python), "-c", "import sys; print('%d.%d' % sys.version_info[:2])")
    try:
        return subprocess.run(command, capture_output=True, text=True, check=True).stdout.strip()
    except (OSError, subprocess.CalledProcessError):
        return None


@dataclass(frozen=True, slots=True)
class Environment:
    """The environment of one checkout.

    Attributes
    ----------
    root : Path
        Top folder of the checkout.
    base : str
        Interpreter that makes the environment.
    call : Callable
        Runs a command; raises SetUpError where it fails.
    system : System
        What may be done about system libraries.
    """

    root: Path
    base: str = sys.executable
    call: Callable[[Sequence[str]], None] = call
    system: System = field(default_factory=System)

    @property
    def folder(self) -> Path:
        """Folder of the environment."""
        return self.root / ".venv"

    @property
    def python(self) -> Path:
        """Interpreter inside the environment."""
        return self.folder / "bin" / "python"

    @property
    def record_file(self) -> Path:
        """Where the finished steps are written down."""
        return self.folder / "set-up.json"

    def digest(self, name: str) -> str:
        """SHA-256 of one of the checkout's files."""
        return hashlib.sha256((self.root / name).read_bytes()).hexdigest()


def read_record(environment: Environment) -> dict[str, str]:
    """Finished steps and what they were done with; empty where there are none, or none that can be read."""
    try:
        record = json.loads(environment.record_file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return {str(key): str(value) for key, value in record.items()} if isinstance(record, dict) else {}


def write_record(environment: Environment, record: dict[str, str]) -> None:
    """Write the finished steps down in one stroke, so that no half-written record can be met."""
    draft = environment.record_file.with_suffix(".draft")
    draft.write_text(json.dumps(record, indent=2) + "\n", encoding="utf-8")
    os.replace(draft, environment.record_file)


def install_packages(environment: Environment) -> None:
    """Make the environment afresh and install what the lock names."""
    environment.record_file.unlink(missing_ok=True)
    environment.system.say("Making .venv and installing the locked packages; this takes a minute or two")
    environment.call((environment.base, "-m", "venv", "--clear", str(environment.folder)))
    lock = str(environment.root / "requirements.lock")
    environment.call((str(environment.python), "-m", "pip", "install", "--quiet", "--require-hashes", "-r", lock))


def install_project(environment: Environment) -> None:
    """Install the checkout itself, editable, with the locked build backend and nothing fetched."""
    pip = (str(environment.python), "-m", "pip", "install", "--quiet", "--no-deps", "--no-build-isolation")
    environment.call((*pip, "--editable", str(environment.root)))


def prove_mesher(environment: Environment) -> None:
    """Bring the mesher's system libraries and see it start."""
    for binary in sorted(environment.folder.glob("lib/**/libgmsh.so*"))[:1]:
        ensure_libraries(binary, environment.system)
    environment.call((str(environment.python), "-c", USES_MESHER))


def wanted_packages(environment: Environment, exactly: bool) -> dict[str, str]:
    """What the package step depends on; the interpreter counts only where the caller named it."""
    record = {"lock": environment.digest("requirements.lock"), "place": str(environment.root)}
    version = interpreter_version(Path(environment.base)) if exactly else interpreter_version(environment.python)
    return record | {"python": version or ""}


def set_up(environment: Environment, *, exactly: bool = False) -> None:
    """Bring the environment up to the lock and the project file, doing only what is not yet done.

    Parameters
    ----------
    environment : Environment
        The environment of this checkout.
    exactly : bool
        Whether the environment must have the version of `environment.base`; otherwise any version it has is kept.

    Raises
    ------
    SetUpError
        If a step cannot be finished. Steps before it stay done.
    """
    record = read_record(environment)
    wanted = wanted_packages(environment, exactly)
    if any(record.get(key) != value for key, value in wanted.items()):
        install_packages(environment)
        record = wanted | {"python": interpreter_version(environment.python) or ""}
        write_record(environment, record)
    project = environment.digest("pyproject.toml")
    if record.get("project") != project:
        write_record(environment, {key: value for key, value in record.items() if key != "project"})
        install_project(environment)
        record["project"] = project
        write_record(environment, record)
    if record.get("mesher") != "starts":
        prove_mesher(environment)
        write_record(environment, record | {"mesher": "starts"})


@contextmanager
def alone(root: Path, say: Callable[[str], None]) -> Iterator[None]:
    """Keep two set-ups of one checkout apart; the lock falls by itself when the process ends."""
    folder = os.open(root, os.O_RDONLY)
    try:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting for another set-up of this checkout")
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def main(arguments: Sequence[str]) -> int:
    """Set the checkout up; 0 when it is ready, 1 with a text on stderr when not."""
    environment = Environment(Path(__file__).resolve().parent.parent)
    try:
        with alone(environment.root, environment.system.say):
            set_up(environment, exactly="--exactly" in arguments)
    except SetUpError as error:
        print(f"trivet: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("trivet: set-up interrupted; the next make carries on", file=sys.stderr)
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
