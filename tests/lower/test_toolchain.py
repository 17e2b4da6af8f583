"""Programs from outside are found, can be overridden, and are missed in words that help."""

import sys
from pathlib import Path

import pytest

from mixer.errors import MissingToolError
from mixer.lower.run.toolchain import C_COMPILER, find


def make_program(folder: Path, name: str) -> Path:
    """A program that does nothing."""
    path = folder / name
    path.write_text("#!/bin/sh\n")
    path.chmod(0o755)
    return path


def test_the_first_known_name_on_the_path_is_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where there is no cc, gcc comes before clang."""
    clang, gcc = make_program(tmp_path, "clang"), make_program(tmp_path, "gcc")
    monkeypatch.delenv("STICKWRIGHT_CC", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert find(C_COMPILER) == [str(gcc)]
    gcc.unlink()
    assert find(C_COMPILER) == [str(clang)]


def test_the_environment_overrides_with_arguments(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What STICKWRIGHT_CC says is split as a shell would split it."""
    wrapper = make_program(tmp_path, "my wrapper")
    monkeypatch.setenv("STICKWRIGHT_CC", f"'{wrapper}' gcc -m32")
    assert find(C_COMPILER) == [str(wrapper), "gcc", "-m32"]


def test_a_missing_compiler_says_what_to_install(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The message names what was looked for, a package, and the variable."""
    monkeypatch.delenv("STICKWRIGHT_CC", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("mixer.lower.run.toolchain.find_spec", lambda _: None)
    with pytest.raises(MissingToolError, match=r"^a C compiler is needed and none was found") as caught:
        find(C_COMPILER)
    assert "looked for cc, gcc, clang" in str(caught.value)
    assert "apt-get install gcc" in caught.value.remedy
    assert "set STICKWRIGHT_CC" in caught.value.remedy


def test_a_wrong_override_is_told_and_never_ignored(monkeypatch: pytest.MonkeyPatch) -> None:
    """A program that does not exist is an error even where another compiler could be found."""
    monkeypatch.setenv("STICKWRIGHT_CC", "no-such-compiler -O2")
    with pytest.raises(MissingToolError, match=r"^STICKWRIGHT_CC names 'no-such-compiler'"):
        find(C_COMPILER)


def test_a_compiler_from_a_package_serves_where_the_system_has_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Called as a module of this Python; a compiler of the system comes first."""
    monkeypatch.delenv("STICKWRIGHT_CC", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr("mixer.lower.run.toolchain.find_spec", lambda _: object())
    assert find(C_COMPILER) == [sys.executable, "-m", "ziglang", "cc"]
    gcc = make_program(tmp_path, "gcc")
    assert find(C_COMPILER) == [str(gcc)]
