"""Set-up of the environment: the system's libraries, the interrupted set-up, the interpreter, the lock and the wheel.

The machine that runs these tests usually has the libraries, so detection is tried on the output that `ldd` gives in a
bare Debian 12, against apt lists of our own making. scripts/prove-bare.sh tries the whole in a bare system.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from scripts.errors import SetUpError
from scripts.set_up import Environment, alone, read_record, set_up
from scripts.system_libraries import (
    System,
    ensure_libraries,
    is_debian_like,
    missing_libraries,
    package_candidates,
    packages_for,
)

ROOT = Path(__file__).resolve().parent.parent
BINARY = Path("libgmsh.so.4.15")
LDD_BARE = """\
\tlinux-vdso.so.1 (0x00007ffc5e5f2000)
\tlibz.so.1 => /lib/x86_64-linux-gnu/libz.so.1 (0x00007f4d2c3a6000)
\tlibGLU.so.1 => not found
\tlibGL.so.1 => not found
\tlibXcursor.so.1 => not found
\tlibXft.so.2 => not found
\tlibXinerama.so.1 => not found
\tlibstdc++.so.6 => /lib/x86_64-linux-gnu/libstdc++.so.6 (0x00007f4d2c000000)
\tlibgomp.so.1 => not found
\tlibGL.so.1 => not found
\tlibc.so.6 => /lib/x86_64-linux-gnu/libc.so.6 (0x00007f4d2be1e000)
\t/lib64/ld-linux-x86-64.so.2 (0x00007f4d30000000)
"""
LDD_FULL = "\tlibGLU.so.1 => /lib/x86_64-linux-gnu/libGLU.so.1 (0x00007f4d2c000000)\n"
BOOKWORM = {"libglu1-mesa", "libgl1", "libxcursor1", "libxft2", "libxinerama1", "libgomp1", "libpng16-16"}
NEEDED = ["libgl1", "libglu1-mesa", "libgomp1", "libxcursor1", "libxft2", "libxinerama1"]


class FakeMachine:
    """Answers ldd and apt like a machine with the given package lists; remembers what was asked of it."""

    def __init__(self, offered: set[str], *, ldd: str = LDD_BARE, lists: bool = True, apt_fails: int = 0) -> None:
        self.offered, self.ldd, self.lists, self.apt_fails = offered, ldd, lists, apt_fails
        self.commands: list[tuple[str, ...]] = []
        self.after_install = LDD_FULL

    def __call__(self, command: Sequence[str]) -> subprocess.CompletedProcess[str]:
        output, status = "", 0
        match tuple(command):
            case ("ldd", _):
                output = self.ldd
            case ("apt-cache", "policy", name):
                known = self.lists and name in self.offered
                output = f"{name}:\n  Installed: (none)\n  Candidate: {'1.0-1' if known else '(none)'}\n"
            case ("apt-get", "update"):
                self.commands.append(tuple(command))
                self.lists = True
            case ("apt-get", "install", *_):
                self.commands.append(tuple(command))
                status = 100 if self.apt_fails else 0
                self.apt_fails = max(0, self.apt_fails - 1)
                self.ldd = self.ldd if status else self.after_install
            case _:
                raise AssertionError(f"unexpected command {command}")
        return subprocess.CompletedProcess(command, status, output, "E: 404  Not Found" if status else "")


def system(machine: FakeMachine, *, debian: bool = True, root: bool = True) -> System:
    return System(debian=debian, root=root, run=machine, say=lambda _: None)


def installs(machine: FakeMachine) -> list[list[str]]:
    return [
        sorted(word for word in command[2:] if word[0] != "-") for command in machine.commands if "install" in command
    ]


# System libraries


def test_missing_libraries_are_named_once_in_the_order_met() -> None:
    assert missing_libraries(LDD_BARE) == (
        "libGLU.so.1",
        "libGL.so.1",
        "libXcursor.so.1",
        "libXft.so.2",
        "libXinerama.so.1",
        "libgomp.so.1",
    )
    assert missing_libraries(LDD_FULL) == ()


@pytest.mark.parametrize(
    ("library", "package"),
    [
        # Packages that hold these files in Debian 12, as its package lists say.
        ("libGLU.so.1", "libglu1-mesa"),
        ("libGL.so.1", "libgl1"),
        ("libXft.so.2", "libxft2"),
        ("libX11.so.6", "libx11-6"),
        ("libXinerama.so.1", "libxinerama1"),
        ("libfontconfig.so.1", "libfontconfig1"),
        ("libpng16.so.16", "libpng16-16"),
        ("libgomp.so.1", "libgomp1"),
        ("libOpenGL.so.0", "libopengl0"),
        ("libgcc_s.so.1", "libgcc-s1"),
        ("libz.so.1", "zlib1g"),
    ],
)
def test_package_name_follows_from_the_soname(library: str, package: str) -> None:
    assert package_candidates(library)[0] == package


def test_a_soname_without_a_version_names_no_package() -> None:
    assert package_candidates("libplugin.so") == ()


def test_the_name_that_the_lists_offer_is_taken() -> None:
    older, newer = FakeMachine({"libpng16-16"}), FakeMachine({"libpng16-16t64"})
    assert packages_for(["libpng16.so.16"], older) == {"libpng16.so.16": "libpng16-16"}
    assert packages_for(["libpng16.so.16"], newer) == {"libpng16.so.16": "libpng16-16t64"}
    assert packages_for(["libpng16.so.16"], FakeMachine(set())) == {"libpng16.so.16": None}


def test_nothing_is_asked_of_a_complete_system() -> None:
    machine = FakeMachine(BOOKWORM, ldd=LDD_FULL)
    ensure_libraries(BINARY, system(machine))
    assert machine.commands == []


def test_root_installs_exactly_what_is_missing_and_leaves_the_lists_alone() -> None:
    machine = FakeMachine(BOOKWORM)
    ensure_libraries(BINARY, system(machine))
    assert installs(machine) == [NEEDED]
    assert "--no-install-recommends" in machine.commands[0]
    assert ("apt-get", "update") not in machine.commands


def test_empty_lists_are_refreshed_first() -> None:
    machine = FakeMachine(BOOKWORM, lists=False)
    ensure_libraries(BINARY, system(machine))
    assert machine.commands[0] == ("apt-get", "update")
    assert installs(machine) == [NEEDED]


def test_stale_lists_are_refreshed_once_and_the_install_tried_again() -> None:
    machine = FakeMachine(BOOKWORM, apt_fails=1)
    ensure_libraries(BINARY, system(machine))
    assert [command[1] for command in machine.commands] == ["install", "update", "install"]


def test_a_failing_install_says_why_and_what_to_type() -> None:
    machine = FakeMachine(BOOKWORM, apt_fails=2)
    with pytest.raises(SetUpError, match=r"404  Not Found(.|\n)*sudo apt-get install --no-install-recommends libgl1"):
        ensure_libraries(BINARY, system(machine))


def test_a_library_that_no_package_brings_is_named() -> None:
    machine = FakeMachine(BOOKWORM - {"libxft2"})
    with pytest.raises(SetUpError, match=r"no package for libXft\.so\.2\."):
        ensure_libraries(BINARY, system(machine))
    assert installs(machine) == []


def test_a_library_still_missing_after_the_install_is_named() -> None:
    machine = FakeMachine(BOOKWORM)
    machine.after_install = "\tlibXrender.so.1 => not found\n"
    with pytest.raises(SetUpError, match=r"still missing: libXrender\.so\.1\."):
        ensure_libraries(BINARY, system(machine))


def test_a_user_gets_the_one_line_to_type_and_nothing_is_changed() -> None:
    machine = FakeMachine(BOOKWORM)
    with pytest.raises(SetUpError) as caught:
        ensure_libraries(BINARY, system(machine, root=False))
    assert str(caught.value).splitlines()[-1] == "  sudo apt-get install --no-install-recommends " + " ".join(NEEDED)
    assert machine.commands == []


def test_with_empty_lists_the_line_to_type_refreshes_them() -> None:
    machine = FakeMachine(BOOKWORM, lists=False)
    with pytest.raises(SetUpError, match=r"\n  sudo apt-get update && sudo apt-get install .* libgl1 libglu1-mesa "):
        ensure_libraries(BINARY, system(machine, root=False))


def test_another_system_gets_the_names_of_the_libraries() -> None:
    machine = FakeMachine(BOOKWORM)
    with pytest.raises(SetUpError, match=r"libGLU\.so\.1, libGL\.so\.1, .*libgomp\.so\.1\.") as caught:
        ensure_libraries(BINARY, system(machine, debian=False))
    assert "apt" not in str(caught.value)
    assert machine.commands == []


def test_a_c_library_that_is_too_old_is_said_to_be() -> None:
    complaint = "./libgmsh.so: /lib/libc.so.6: version `GLIBC_2.38' not found (required by ./libgmsh.so)\n"
    with pytest.raises(SetUpError, match=r"too old for libgmsh.*GLIBC_2\.38"):
        ensure_libraries(BINARY, system(FakeMachine(BOOKWORM, ldd=complaint)))


@pytest.mark.parametrize(
    ("release", "expected"),
    [
        ({"ID": "debian"}, True),
        ({"ID": "ubuntu", "ID_LIKE": "debian"}, True),
        ({"ID": "linuxmint", "ID_LIKE": "ubuntu debian"}, True),
        ({"ID": "fedora"}, False),
        ({}, False),
    ],
)
def test_debian_and_its_like_are_told_from_others(
    release: dict[str, str], expected: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("platform.freedesktop_os_release", lambda: release)
    monkeypatch.setattr("shutil.which", lambda name: f"/usr/bin/{name}")
    assert is_debian_like() is expected


# The environment


class FakeInstaller:
    """Stands for venv and pip: leaves an interpreter behind, and can be interrupted at one of its steps."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.steps: list[str] = []
        self.interrupt_at: str | None = None

    def __call__(self, command: Sequence[str]) -> None:
        step = next(
            name
            for name, sign in [
                ("venv", "venv"),
                ("packages", "--require-hashes"),
                ("project", "--editable"),
                ("mesher", "-c"),
            ]
            if sign in command
        )
        self.steps.append(step)
        if step == "venv":
            python = self.root / ".venv" / "bin" / "python"
            python.parent.mkdir(parents=True, exist_ok=True)
            python.unlink(missing_ok=True)
            python.symlink_to(sys.executable)
        if step == self.interrupt_at:
            raise KeyboardInterrupt


@pytest.fixture
def stand_in(tmp_path: Path) -> Callable[[str, str], Path]:
    """Makes a stand-in for an interpreter, which prints a version and has a venv module or not."""

    def make(version: str, venv: str) -> Path:
        python = tmp_path / f"python-{version}"
        python.write_text(f'#!/bin/sh\ncase "$2" in *venv*) {venv} ;; *version*) echo {version} ;; esac\n')
        python.chmod(0o755)
        return python

    return make


ALL_STEPS = ["venv", "packages", "project", "mesher"]


@pytest.fixture
def installer(tmp_path: Path) -> FakeInstaller:
    for name in ("requirements.lock", "pyproject.toml"):
        (tmp_path / name).write_text("# first\n")
    return FakeInstaller(tmp_path)


def run_set_up(installer: FakeInstaller, base: str = sys.executable, *, exactly: bool = False) -> list[str]:
    """Steps that one set-up took."""
    installer.steps.clear()
    machine = System(debian=False, root=False, run=FakeMachine(set(), ldd=LDD_FULL), say=lambda _: None)
    set_up(Environment(installer.root, base, call=installer, system=machine), exactly=exactly)
    return list(installer.steps)


def test_a_finished_set_up_is_not_repeated(installer: FakeInstaller) -> None:
    assert run_set_up(installer) == ALL_STEPS
    assert run_set_up(installer) == []
    assert run_set_up(installer, exactly=True) == []


def test_a_touched_but_equal_lock_changes_nothing(installer: FakeInstaller) -> None:
    run_set_up(installer)
    os.utime(installer.root / "requirements.lock")
    assert run_set_up(installer) == []


def test_a_changed_lock_makes_the_environment_afresh(installer: FakeInstaller) -> None:
    run_set_up(installer)
    (installer.root / "requirements.lock").write_text("# second\n")
    assert run_set_up(installer) == ALL_STEPS
    assert run_set_up(installer) == []


def test_a_changed_project_file_installs_the_project_again(installer: FakeInstaller) -> None:
    run_set_up(installer)
    (installer.root / "pyproject.toml").write_text("# second\n")
    assert run_set_up(installer) == ["project"]
    assert run_set_up(installer) == []


@pytest.mark.parametrize(
    ("step", "repeated"),
    [("venv", ALL_STEPS), ("packages", ALL_STEPS), ("project", ["project", "mesher"]), ("mesher", ["mesher"])],
)
@pytest.mark.parametrize("fresh", [True, False])
def test_an_interrupted_step_is_done_again(
    installer: FakeInstaller, step: str, repeated: list[str], fresh: bool
) -> None:
    if not fresh:
        run_set_up(installer)
        (installer.root / "requirements.lock").write_text("# second\n")
    installer.interrupt_at = step
    with pytest.raises(KeyboardInterrupt):
        run_set_up(installer)
    installer.interrupt_at = None
    assert run_set_up(installer) == repeated
    assert run_set_up(installer) == []


def test_an_interrupted_project_install_after_a_change_is_done_again(installer: FakeInstaller) -> None:
    run_set_up(installer)
    before = (installer.root / "pyproject.toml").read_text()
    (installer.root / "pyproject.toml").write_text("# second\n")
    installer.interrupt_at = "project"
    with pytest.raises(KeyboardInterrupt):
        run_set_up(installer)
    installer.interrupt_at = None
    (installer.root / "pyproject.toml").write_text(before)
    assert run_set_up(installer) == ["project"]


def test_after_an_interruption_a_lock_that_changed_back_is_installed_again(installer: FakeInstaller) -> None:
    run_set_up(installer)
    before = (installer.root / "requirements.lock").read_text()
    (installer.root / "requirements.lock").write_text("# second\n")
    installer.interrupt_at = "packages"
    with pytest.raises(KeyboardInterrupt):
        run_set_up(installer)
    installer.interrupt_at = None
    (installer.root / "requirements.lock").write_text(before)
    assert run_set_up(installer) == ALL_STEPS


def test_only_an_interpreter_that_the_caller_named_is_binding(
    installer: FakeInstaller, stand_in: Callable[[str, str], Path]
) -> None:
    run_set_up(installer)
    other = str(stand_in("3.99", "true"))
    assert run_set_up(installer, other) == []
    assert run_set_up(installer, other, exactly=True) == ALL_STEPS


def test_an_environment_whose_version_changed_beneath_it_is_made_afresh(installer: FakeInstaller) -> None:
    run_set_up(installer)
    record = installer.root / ".venv" / "set-up.json"
    here = f"{sys.version_info.major}.{sys.version_info.minor}"
    record.write_text(record.read_text().replace(f'"{here}"', '"3.99"'))
    assert run_set_up(installer) == ALL_STEPS


def test_an_environment_whose_interpreter_is_gone_is_made_afresh(installer: FakeInstaller) -> None:
    run_set_up(installer)
    python = installer.root / ".venv" / "bin" / "python"
    python.unlink()
    python.symlink_to("/nonexistent/python")
    assert run_set_up(installer) == ALL_STEPS


def test_an_environment_of_a_checkout_that_moved_is_made_afresh(installer: FakeInstaller) -> None:
    run_set_up(installer)
    moved = installer.root / "moved"
    moved.mkdir()
    for name in (".venv", "requirements.lock", "pyproject.toml"):
        (installer.root / name).rename(moved / name)
    installer.root = moved
    assert run_set_up(installer) == ALL_STEPS


@pytest.mark.parametrize("text", ["", "[]", '{"lock": '])
def test_a_record_that_cannot_be_read_counts_as_none(installer: FakeInstaller, text: str) -> None:
    run_set_up(installer)
    (installer.root / ".venv" / "set-up.json").write_text(text)
    assert read_record(Environment(installer.root)) == {}
    assert run_set_up(installer) == ALL_STEPS


def test_two_set_ups_of_one_checkout_take_turns(tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    other = (
        "import sys; from pathlib import Path; from scripts.set_up import alone\n"
        "with alone(Path(sys.argv[1]), lambda line: print(line, flush=True)): Path(sys.argv[2]).touch()"
    )
    with alone(tmp_path, print):
        waiting = subprocess.Popen(
            (sys.executable, "-c", other, str(tmp_path), str(inside)), cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert waiting.stdout is not None
        assert waiting.stdout.readline() == "Waiting for another set-up of this checkout\n"
        with pytest.raises(subprocess.TimeoutExpired):
            waiting.wait(timeout=0.5)
        assert not inside.exists()
    waiting.communicate(timeout=20)
    assert inside.exists()


# The interpreter


def choose(python: Path | str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ("sh", str(ROOT / "scripts" / "set-up.sh"), str(python)), capture_output=True, text=True, check=False
    )


@pytest.mark.parametrize("version", ["2.7", "3.10", "3.14"])
def test_an_unfit_interpreter_is_refused_in_plain_words(stand_in: Callable[[str, str], Path], version: str) -> None:
    result = choose(stand_in(version, "true"))
    assert result.returncode == 1
    assert f"is Python {version}; trivet needs Python 3.11, 3.12 or 3.13." in result.stderr
    assert "PYTHON=python3" in result.stderr


def test_an_absent_interpreter_is_said_to_be() -> None:
    result = choose("no-such-python")
    assert result.returncode == 1
    assert "'no-such-python' does not run." in result.stderr


def test_a_missing_venv_module_is_said_with_its_package(stand_in: Callable[[str, str], Path]) -> None:
    result = choose(stand_in("3.12", "exit 1"))
    assert result.returncode == 1
    assert "lacks its venv module" in result.stderr
    assert "sudo apt-get install python3.12-venv" in result.stderr


@pytest.mark.parametrize("version", ["3.11", "3.12", "3.13"])
def test_a_fit_interpreter_is_handed_on(stand_in: Callable[[str, str], Path], version: str) -> None:
    result = choose(stand_in(version, "true"))
    assert (result.returncode, result.stderr) == (0, "")


# The lock and the wheel


def locked_requirements() -> dict[str, Requirement]:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line.split("--hash")[0] for line in text.splitlines() if not line.startswith("#")]
    return {requirement.name: requirement for requirement in map(Requirement, lines)}


def test_every_locked_package_has_one_version_and_a_hash() -> None:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    assert len(lines) > 30
    assert [line for line in lines if not re.search(r"==\S+ .*--hash=sha256:[0-9a-f]{64}", line)] == []
    assert len(locked_requirements()) == len(lines)


def test_the_lock_names_no_address() -> None:
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    assert re.findall(r"\S*://\S*|^-\S*|^\s*--(?!hash)\S*| @ ", text, flags=re.MULTILINE) == []


def test_the_lock_holds_what_the_project_file_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [
        *project["project"]["dependencies"],
        *project["project"]["optional-dependencies"]["dev"],
        *project["build-system"]["requires"],
    ]
    locked = locked_requirements()
    for requirement in map(Requirement, wanted):
        (pin,) = locked[requirement.name].specifier
        assert requirement.specifier.contains(pin.version), requirement


@pytest.mark.slow
def test_the_wheel_carries_the_packages_and_their_data(tmp_path: Path) -> None:
    tree = tmp_path / "tree"
    names = subprocess.run(("git", "ls-files", "-z"), cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in filter(None, names.split("\0")):
        if (ROOT / name).is_file():
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, tree / name)
    (tree / "studies" / "templates").mkdir(exist_ok=True)
    (tree / "studies" / "templates" / "page.html").write_text("<p>")
    pip = (sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation", "--no-index")
    subprocess.run((*pip, "--wheel-dir", str(tmp_path), str(tree)), check=True, capture_output=True)
    (wheel,) = tmp_path.glob("trivet-*.whl")
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    data = {name for name in names.split("\0") if re.match(r"(geometries|studies)/(data|library|templates)/", name)}
    modules = {name for name in names.split("\0") if re.match(r"(geometries|fem|links|studies)/.*\.py$", name)}
    assert modules | data | {"studies/templates/page.html"} <= held
    assert {name.split("/")[0] for name in held if "dist-info" not in name} == {"geometries", "fem", "links", "studies"}
