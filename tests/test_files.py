"""The one writer of files: whole or not at all, and never over what is not its own."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from mixer import files
from mixer.errors import WriteError
from mixer.files import check_folder, check_place, write_file, write_folder, written, written_text
from mixer.system import swap

resource = pytest.importorskip("resource", reason="limits of a process, POSIX only")
MARK = "made here"


@contextmanager
def no_file_over(size: int) -> Iterator[None]:
    """A disk that is full after so many bytes of one file."""
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, before)


def test_a_file_takes_its_place_only_when_it_is_whole(tmp_path: Path) -> None:
    """While it is written the old one stands there; afterwards the new one, with nothing beside it."""
    path = tmp_path / "page.html"
    path.write_text("old")
    with written_text(path) as file:
        file.write("new\r\n")
        file.flush()
        assert path.read_text() == "old"
    assert path.read_bytes() == b"new\r\n"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit, ZeroDivisionError])
def test_whatever_ends_the_work_leaves_the_old_file(tmp_path: Path, stop: type[BaseException]) -> None:
    """An interrupt, a request to end or a bug in the middle: the old file, and nothing beside it."""
    path = tmp_path / "page.html"
    path.write_text("old")
    with pytest.raises(stop), written(path) as file:  # noqa: PT012
        file.write(b"half" * 10_000)
        raise stop
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_full_disk_leaves_the_old_file(tmp_path: Path) -> None:
    """What does not fit is told with what to do, and nothing of it stays."""
    path = tmp_path / "page.html"
    path.write_text("old")
    with (
        no_file_over(5_000),
        pytest.raises(WriteError, match=r"page\.html cannot be written: .*\n.*make room"),
    ):
        write_file(path, "x" * 100_000)
    with no_file_over(5_000), pytest.raises(WriteError), written_text(path) as file:  # noqa: PT012
        for _ in range(10_000):
            file.write("a line of a table\r\n")
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_kill_9_leaves_the_old_file(tmp_path: Path) -> None:
    """A process that is killed while it writes has not touched what stood there."""
    path = tmp_path / "table.csv"
    path.write_text("old")
    code = """
import sys, time
from pathlib import Path
from mixer.files import written
with written(Path(sys.argv[1])) as file:
    while True:
        file.write(b"line" * 1000)
        file.flush()
        print("wrote", flush=True)
"""
    process = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    process.stdout.readline()
    process.kill()
    process.stdout.close()
    process.wait()
    assert path.read_text() == "old"


def test_permissions_and_links_stay(tmp_path: Path) -> None:
    """A link stays a link, and the file behind it keeps its permissions; a new one gets the usual ones."""
    real, link, fresh = tmp_path / "real", tmp_path / "link", tmp_path / "fresh"
    real.write_text("old")
    real.chmod(0o640)
    link.symlink_to(real)
    write_file(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"
    assert real.stat().st_mode & 0o777 == 0o640
    (tmp_path / "usual").touch()
    write_file(fresh, "new")
    assert fresh.stat().st_mode == (tmp_path / "usual").stat().st_mode


def test_a_pipe_is_written_to_as_it_is(tmp_path: Path) -> None:
    """A fifo is no file to be replaced."""
    fifo = tmp_path / "fifo"
    os.mkfifo(fifo)
    reader = subprocess.Popen(["cat", str(fifo)], stdout=subprocess.PIPE)
    check_place(fifo)
    write_file(fifo, "through")
    assert reader.communicate()[0] == b"through"
    assert fifo.is_fifo()


def test_only_what_is_ours_or_wanted_is_replaced(tmp_path: Path) -> None:
    """A mark near the beginning makes a file ours; the user's word replaces others; inputs are sacred."""
    ours, foreign, given, same = (tmp_path / name for name in ("ours", "foreign", "given", "same"))
    ours.write_text(f"<!-- {MARK} -->")
    foreign.write_bytes(b"\xff\xfe" + b"x" * files.HEAD_BYTES + MARK.encode())
    given.write_text(MARK)
    same.hardlink_to(given)
    check_place(ours, marks=[MARK])
    check_place(tmp_path / "fresh", inputs=[given, tmp_path / "fresh.toml"])
    with pytest.raises(WriteError, match="is there already"):
        check_place(foreign, marks=[MARK])
    check_place(foreign, marks=[MARK], overwrite=True)
    for path in (given, same, tmp_path / "." / "given"):
        with pytest.raises(WriteError, match="is what this command reads"):
            check_place(path, inputs=[given], marks=[MARK], overwrite=True)
    with pytest.raises(WriteError, match="is a folder"):
        check_place(tmp_path, overwrite=True)
    with pytest.raises(WriteError, match=r"there is no folder"):
        check_place(tmp_path / "no" / "file")


def test_a_folder_is_written_whole(tmp_path: Path) -> None:
    """A new folder appears with everything in it; into one that is there, what else it holds stays."""
    folder = tmp_path / "deep" / "export"
    write_folder(folder, {"a.c": "one", "b.c": "two"})
    (folder / "mine").write_text("mine")
    write_folder(folder, {"a.c": "three", "c.c": "four"})
    found = {path.name: path.read_text() for path in folder.iterdir()}
    assert found == {"a.c": "three", "b.c": "two", "c.c": "four", "mine": "mine"}
    assert [path.name for path in folder.parent.iterdir()] == ["export"]


def test_kill_9_leaves_a_folder_of_one_piece(tmp_path: Path) -> None:
    """Killed at any of its moves, it leaves all the old files or all the new ones, and what is foreign."""
    names = ["a.c", "b.c", "c.c"]
    (tmp_path / "one").mkdir()
    (tmp_path / "two").mkdir()
    if not swap(tmp_path / "one", tmp_path / "two"):
        pytest.skip("this disk cannot swap folders")
    folders = [tmp_path / f"export{moves}" for moves in range(9)]
    for folder in folders:
        write_folder(folder, {**dict.fromkeys(names, "old"), "mine": "mine"})
    code = """
import os, signal, sys
from pathlib import Path
from mixer import files
def counted(move):
    def moved(*args):
        global left
        left -= 1
        if left < 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return move(*args)
    return moved
files.swap, Path.replace = counted(files.swap), counted(Path.replace)
for left, folder in enumerate(sys.argv[1:]):
    if not os.fork():
        files.write_folder(Path(folder), dict.fromkeys(["a.c", "b.c", "c.c"], "new"))
        os._exit(0)
    os.wait()
"""
    subprocess.run([sys.executable, "-c", code, *map(str, folders)], check=True)
    found = [{(folder / name).read_text() for name in names} for folder in folders]
    assert found == [{"old"}] * 8 + [{"new"}]
    assert all((folder / "mine").read_text() == "mine" for folder in folders)


@pytest.mark.parametrize("exists", [False, True])
def test_a_folder_that_does_not_fit_is_not_written(tmp_path: Path, exists: bool) -> None:
    """A full disk in the middle leaves the folder as it was, or no folder."""
    folder = tmp_path / "deep" / "export"
    if exists:
        write_folder(folder, {"a.c": "one"})
    with no_file_over(5_000), pytest.raises(WriteError, match=r"export/b\.c cannot be .*\n.*make room"):
        write_folder(folder, {"a.c": "new", "b.c": "x" * 100_000})
    if exists:
        assert {path.name: path.read_text() for path in folder.iterdir()} == {"a.c": "one"}
    else:
        assert list(tmp_path.iterdir()) == []


def test_a_move_that_fails_takes_the_others_back(tmp_path: Path) -> None:
    """When the second of three files cannot take its place, the first goes back."""
    folder = tmp_path / "export"
    write_folder(folder, {"a.c": "one", "c.c": "one"})
    (folder / "b.c").mkdir()
    (folder / "b.c" / "mine").touch()
    with pytest.raises(OSError, match="directory"):
        files._exchange(staged(folder), folder, ["a.c", "b.c", "c.c"])
    assert (folder / "a.c").read_text() == (folder / "c.c").read_text() == "one"
    assert (folder / "b.c" / "mine").exists()


def staged(folder: Path) -> Path:
    """A stage with three files, as `write_folder` makes it."""
    stage = folder.parent / "stage"
    stage.mkdir()
    for name in ("a.c", "b.c", "c.c"):
        (stage / name).write_text("new")
    return stage


def test_a_folder_is_checked_before_any_work(tmp_path: Path) -> None:
    """A file in the way, foreign files and folders of the same name are refused."""
    (tmp_path / "file").touch()
    with pytest.raises(WriteError, match="is no folder"):
        check_folder(tmp_path / "file" / "export", ["a.c"])
    (tmp_path / "a.c").write_text("mine")
    with pytest.raises(WriteError, match=r"a\.c is there already"):
        check_folder(tmp_path, ["a.c"], marks=[MARK])
    check_folder(tmp_path, ["a.c"], marks=[MARK], overwrite=True)
    check_folder(tmp_path / "new" / "one", ["a.c"])


def test_what_a_killed_run_left_goes_after_a_day(tmp_path: Path) -> None:
    """Unfinished files of yesterday are removed, those of a minute ago may be somebody's work."""
    old, young = tmp_path / ".stickwright-0123.new", tmp_path / ".stickwright-4567.new"
    for left, age_s in ((old, 2 * 86_400), (young, 60)):
        left.touch()
        os.utime(left, (left.stat().st_mtime - age_s,) * 2)
    write_file(tmp_path / "page", "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == [young.name, "page"]
