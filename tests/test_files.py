"""Files appear whole or not at all, one of them or a folder's."""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep import files
from halfstep.errors import BriefError
from halfstep.files import whole_file, whole_folder, write_whole


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


@pytest.fixture
def loose_mask() -> Iterator[None]:
    """New files may be read by all, as is usual; put back afterwards."""
    before = os.umask(0o022)
    yield
    os.umask(before)


# One file


@given(data=st.binary(max_size=64))
def test_a_file_holds_what_it_was_given(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.mktemp("a") / "a.mid"
    write_whole(path, data)
    assert path.read_bytes() == data
    assert names(path.parent) == {"a.mid"}


def test_a_path_may_be_a_text(tmp_path: Path) -> None:
    write_whole(f"{tmp_path}/a.mid", b"new")
    assert (tmp_path / "a.mid").read_bytes() == b"new"


def test_a_file_that_is_there_is_replaced(tmp_path: Path) -> None:
    (tmp_path / "a.mid").write_bytes(b"an old one, and longer")
    write_whole(tmp_path / "a.mid", b"new")
    assert (tmp_path / "a.mid").read_bytes() == b"new"


@pytest.mark.usefixtures("loose_mask")
def test_a_file_can_be_read_by_whom_the_system_lets(tmp_path: Path) -> None:
    """A temporary file is private by custom; the finished one follows the umask."""
    write_whole(tmp_path / "a.mid", b"new")
    assert stat.S_IMODE((tmp_path / "a.mid").stat().st_mode) == 0o644


def test_the_umask_is_as_it_was_before(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "a.mid", b"new")
        assert os.umask(0o027) == 0o027
        assert stat.S_IMODE((tmp_path / "a.mid").stat().st_mode) == 0o640
    finally:
        os.umask(before)


def test_a_write_that_fails_leaves_the_old_file_and_no_other(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(b"old")
    with pytest.raises(TypeError, match="bytes"):
        write_whole(path, "no bytes")  # type: ignore[arg-type]
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == {"a.wav"}


def test_a_rename_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object) -> None:
        raise OSError("no room")

    monkeypatch.setattr(files.os, "replace", refused)
    with pytest.raises(OSError, match="no room"):
        write_whole(tmp_path / "a.wav", b"new")
    assert names(tmp_path) == set()


def test_a_file_in_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        write_whole(tmp_path / "no" / "a.wav", b"new")


# A folder


def fill(folder: Path, **texts: str) -> None:
    for name, text in texts.items():
        (folder / name).write_text(text, "utf-8")


def fail_half_way(folder: Path, **meanwhile: str) -> None:
    """Begin a folder, and fail; others may write into it meanwhile."""
    with whole_folder(folder) as work:
        fill(work, page="new")
        fill(folder, **meanwhile)
        raise ValueError("half way")


def test_a_folder_has_all_its_files_at_the_end(tmp_path: Path) -> None:
    with whole_folder(tmp_path / "lesson") as work:
        fill(work, page="one", sound="two")
        assert names(tmp_path / "lesson") == set()
    assert names(tmp_path / "lesson") == {"page", "sound"}
    assert (tmp_path / "lesson" / "sound").read_text("utf-8") == "two"
    assert names(tmp_path) == {"lesson"}


def test_folders_on_the_way_are_made(tmp_path: Path) -> None:
    with whole_folder(tmp_path / "a" / "b" / "c") as work:
        fill(work, page="one")
    assert names(tmp_path / "a" / "b" / "c") == {"page"}
    assert names(tmp_path / "a" / "b") == {"c"}


def test_files_of_the_same_name_are_replaced_and_others_stay(tmp_path: Path) -> None:
    folder = tmp_path / "lesson"
    folder.mkdir()
    fill(folder, page="old", notes="mine")
    with whole_folder(folder) as work:
        fill(work, page="new")
    assert (folder / "page").read_text("utf-8") == "new"
    assert (folder / "notes").read_text("utf-8") == "mine"


def test_what_fails_half_way_leaves_nothing(tmp_path: Path) -> None:
    """The folders that were made for it go, too."""
    with pytest.raises(ValueError, match="half way"):
        fail_half_way(tmp_path / "a" / "b")
    assert names(tmp_path) == set()


def test_what_fails_leaves_an_earlier_lesson_as_it_was(tmp_path: Path) -> None:
    folder = tmp_path / "lesson"
    folder.mkdir()
    fill(folder, page="old")
    with pytest.raises(ValueError, match="half way"):
        fail_half_way(folder)
    assert (folder / "page").read_text("utf-8") == "old"
    assert names(tmp_path) == {"lesson"}


def test_a_folder_that_was_made_and_filled_by_another_meanwhile_stays(tmp_path: Path) -> None:
    folder = tmp_path / "lesson"
    with pytest.raises(ValueError, match="half way"):
        fail_half_way(folder, other="someone else's")
    assert names(folder) == {"other"}


@pytest.mark.parametrize("place", ["lesson", "lesson/inner"])
def test_a_file_on_the_way_is_named(tmp_path: Path, place: str) -> None:
    fill(tmp_path, lesson="a file")
    with pytest.raises(BriefError, match="lesson is a file"), whole_folder(tmp_path / place):
        pass
    assert names(tmp_path) == {"lesson"}


def test_a_folder_in_the_place_of_a_file_is_named_and_nothing_moves(tmp_path: Path) -> None:
    """Neither the file in its way nor those before it."""
    folder = tmp_path / "lesson"
    (folder / "sound").mkdir(parents=True)
    with pytest.raises(BriefError, match="sound is a folder"), whole_folder(folder) as work:
        fill(work, page="one", sound="two")
    assert names(folder) == {"sound"}
    assert names(tmp_path) == {"lesson"}


def test_what_the_system_refuses_is_said_with_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: object, **__: object) -> str:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(files.tempfile, "mkdtemp", refused)
    message = f"cannot write to {tmp_path / 'lesson'}: Permission denied"
    with pytest.raises(BriefError, match=message), whole_folder(tmp_path / "lesson"):
        pass
    assert names(tmp_path) == set()


def test_work_is_done_beside_the_folder_so_that_moving_is_renaming(tmp_path: Path) -> None:
    with whole_folder(tmp_path / "lesson") as work:
        assert work.parent == tmp_path
        assert work.name.startswith(".")
        assert work.stat().st_dev == (tmp_path / "lesson").stat().st_dev


# What a process leaves that is killed


BE_KILLED = """
import os, signal, sys
from pathlib import Path
from halfstep.files import whole_file, whole_folder

folder = Path(sys.argv[1])
with whole_folder(folder / "lesson") as work, whole_file(folder / "map.pdf") as file:
    (work / "page").write_text("half")
    file.write(b"half")
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.fixture
def left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which a process was killed at its work."""
    monkeypatch.setattr(files, "YOUNG_S", 0.0)
    killed = subprocess.run([sys.executable, "-c", BE_KILLED, tmp_path], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert len(names(tmp_path) - {"lesson"}) == 2
    return tmp_path


def test_what_a_killed_process_left_goes_when_the_next_writes_a_file(left: Path) -> None:
    write_whole(left / "other.pdf", b"new")
    assert names(left) == {"lesson", "other.pdf"}


def test_what_a_killed_process_left_goes_when_the_next_writes_a_folder(left: Path) -> None:
    with whole_folder(left / "lesson") as work:
        fill(work, page="new")
    assert names(left) == {"lesson"}


def test_what_others_work_on_and_other_files_stay(left: Path) -> None:
    others = {".halfstep-school", ".halfstep-draft-mine", ".halfstep-draft-of-my-own"}
    for name in others:
        (left / name).mkdir()
    with whole_folder(left / "a") as work, whole_file(left / "b") as file:
        with whole_folder(left / "c"):
            assert work.is_dir()
        file.write(b"new")
        fill(work, page="new")
    assert names(left) == {"lesson", "a", "b", "c", *others}


def test_what_was_begun_just_now_stays(left: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its lock may be still to come."""
    monkeypatch.setattr(files, "YOUNG_S", 60.0)
    write_whole(left / "b", b"new")
    assert len(names(left)) == 4
