"""Files that are no profiles: each refused with one readable problem."""

import os
import tempfile
from pathlib import Path

import pytest

from mixer.errors import ProfileError
from mixer.profile.profile import load_profile, parse_profile
from mixer.profile.starter import starter_profile


def refusal(path: Path) -> str:
    """The one problem a file is refused with."""
    with pytest.raises(ProfileError) as caught:
        load_profile(path)
    (problem,) = caught.value.problems
    assert problem.remedy
    return f"{problem.where}: {problem.said} | {problem.remedy}"


def test_missing_file_offers_its_neighbours(tmp_path: Path) -> None:
    """A file that is not there is answered with the profiles beside it."""
    (tmp_path / "tank.toml").write_text("")

    said = refusal(tmp_path / "tonk.toml")
    assert said == f"{tmp_path / 'tonk.toml'}: there is no such file | profiles in {tmp_path}: tank.toml"


def test_missing_folder_offers_a_start(tmp_path: Path) -> None:
    """Where there is no folder either, the way to begin is named."""
    assert refusal(tmp_path / "no" / "x.toml").endswith("begin a profile with: stickwright new")


def test_directory_is_refused(tmp_path: Path) -> None:
    """A folder is no profile."""
    assert refusal(tmp_path) == f"{tmp_path}: is a directory, not a profile | name the .toml file inside it"


def test_nul_in_the_name_is_refused() -> None:
    """A name no system allows is a problem of the input, not a traceback."""
    assert "\0x: " in refusal(Path("\0x"))


def test_empty_file_is_refused(tmp_path: Path) -> None:
    """An empty file, or one of comments only, says what a profile needs at least."""
    path = tmp_path / "x.toml"
    path.write_text("# nothing\n")

    assert refusal(path).startswith(f"{path}: is empty | write at least [robot]")


def test_other_encodings_are_refused_with_the_line(tmp_path: Path) -> None:
    """Bytes that are not UTF-8 are named with their line."""
    path = tmp_path / "x.toml"
    path.write_bytes(b'[robot]\nname = "\xe4"\n')

    assert refusal(path) == f"{path}:2: is not UTF-8 text (byte 0xe4) | save it as UTF-8, or name a profile"


def test_huge_files_are_refused_unread(tmp_path: Path) -> None:
    """A file of over a megabyte is no profile."""
    path = tmp_path / "x.toml"
    path.write_bytes(b"#" * 1_000_001)

    assert "is over a megabyte" in refusal(path)


@pytest.mark.skipif(os.name == "nt", reason="permissions are another matter there")
def test_unreadable_file_is_refused() -> None:
    """A file without permission to read is refused with the system's reason."""
    root = os.geteuid() == 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.toml"
        path.touch(mode=0)
        Path(folder).chmod(0o755)
        if root:  # root may read anything, so be nobody for a moment
            os.seteuid(65534)
        try:
            said = refusal(path)
        finally:
            if root:
                os.seteuid(0)

    assert "cannot be read: Permission denied" in said


def test_byte_order_mark_is_no_problem(tmp_path: Path) -> None:
    """Editors that put a mark in front of UTF-8 do no harm, nor do their line ends."""
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbf" + starter_profile("x").replace("\n", "\r\n").encode())

    assert load_profile(path).fingerprint() == parse_profile(starter_profile("x"), "x").fingerprint()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[robot]\nname = \n", "p.toml:2: is not TOML: Invalid value"),
        ('[robot]\nname = "a\n', "p.toml:2: is not TOML: Illegal character '\\n'"),
        ("[robot\n", "p.toml:1: is not TOML: Expected ']' at the end of a table declaration"),
        ("[a]\n[a]\n", "p.toml:2: is not TOML: Cannot declare ('a',) twice"),
    ],
)
def test_syntax_errors_name_their_line(text: str, said: str) -> None:
    """What is not TOML is refused at the line where the parser stopped."""
    with pytest.raises(ProfileError) as caught:
        parse_profile(text, "p.toml")
    (problem,) = caught.value.problems

    assert f"{problem.where}: {problem.said}" == said
    assert problem.remedy.startswith("look at this line and the one above")


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000, "a = {" * 3000])
def test_monstrous_texts_are_refused(text: str) -> None:
    """Nesting and numbers past what the parser bears are problems too."""
    with pytest.raises(ProfileError):
        parse_profile(text, "p.toml")
