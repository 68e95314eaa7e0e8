"""Are files kept alike, in the data folder and in a store of objects?

The store is moto's server for S3; S3 itself: Amazon's reference of its interface.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from halfstep.errors import BriefError, StoreError
from halfstep.school.data_folder import DATABASE_VARIABLE, FILES_VARIABLE
from halfstep.school.database import School
from halfstep.school.invitations import door_secret
from halfstep.school.kept_files import FolderFiles, KeptFiles
from object_store import ObjectStore, object_store

pytestmark = pytest.mark.slow

SOUND = bytes(range(256)) * 40
GROWING = "recordings/3/0f8fad5b.pcm"
MOST = 1_000_000


@pytest.fixture(scope="module")
def store() -> Iterator[ObjectStore]:
    with object_store() as started:
        yield started


@pytest.fixture(params=["folder", "store"])
def files(request: pytest.FixtureRequest, tmp_path: Path) -> KeptFiles:
    """The files of a school that has none yet."""
    folder = tmp_path / "data"
    folder.mkdir()
    if request.param == "folder":
        return FolderFiles(folder)
    from halfstep.school.object_files import ObjectFiles

    bucket = request.getfixturevalue("store").new_bucket()
    return ObjectFiles(f"s3://{bucket}/district/one", folder)


def names(files: KeptFiles) -> list[str]:
    return sorted(one.name for one in files.every_file())


def test_what_is_kept_is_read_back_whole_in_parts_and_by_its_digest(
    files: KeptFiles, tmp_path: Path
) -> None:
    recording = tmp_path / "take.wav"
    recording.write_bytes(SOUND)
    files.put("takes/3/a.wav", recording)
    files.put("lines/7-x.musicxml", b"<score-partwise/>")
    assert files.content("takes/3/a.wav") == SOUND
    assert b"".join(files.blocks("takes/3/a.wav", 100, 300)) == SOUND[100:300]
    assert b"".join(files.blocks("takes/3/a.wav", 10_200)) == SOUND[10_200:]
    assert (files.size("takes/3/a.wav"), files.size("takes/3/b.wav")) == (len(SOUND), None)
    assert files.size("takes/3") is None
    files.fetch("takes/3/a.wav", tmp_path / "copy.wav")
    assert (tmp_path / "copy.wav").read_bytes() == SOUND
    assert (tmp_path / "copy.wav").stat().st_mode & 0o77 == 0
    assert names(files) == ["lines/7-x.musicxml", "takes/3/a.wav"]
    with pytest.raises(FileNotFoundError):
        files.content("takes/3/b.wav")
    with pytest.raises(FileNotFoundError):
        files.fetch("takes/3/b.wav", tmp_path / "none.wav")
    assert not (tmp_path / "none.wav").exists()


def test_what_must_not_take_another_s_place_is_refused(files: KeptFiles) -> None:
    assert files.put_new("door.secret", b"first")
    assert not files.put_new("door.secret", b"second")
    assert files.content("door.secret") == b"first"


def test_of_eight_that_make_the_secret_at_once_all_have_the_same(files: KeptFiles) -> None:
    with ThreadPoolExecutor(8) as pool:
        found = set(pool.map(lambda _: door_secret(files), range(8)))
    assert len(found) == 1
    assert len(found.pop()) == 32


def test_a_folder_is_listed_and_goes_and_its_like_named_neighbour_stays(files: KeptFiles) -> None:
    for folder in ("takes/1", "takes/10", "made/1-x/files", "made/12-y/files"):
        files.put(f"{folder}/a.pdf", b"x")
    assert files.names_in("made/1-x/files") == ("a.pdf",)
    assert files.names_in("made/1-x") == ()
    assert files.folders_beginning("made/1-") == {"made/1-x"}
    assert files.folders_beginning("made/") == {"made/1-x", "made/12-y"}
    files.remove_below("takes/1")
    files.remove_below("made/1-x")
    files.remove_below("made/99-none")
    assert names(files) == ["made/12-y/files/a.pdf", "takes/10/a.pdf"]
    files.remove("takes/10/a.pdf")
    files.remove("takes/10/a.pdf")
    assert names(files) == ["made/12-y/files/a.pdf"]


def test_what_was_made_on_this_machine_is_taken_in(files: KeptFiles, tmp_path: Path) -> None:
    made = tmp_path / "data" / "made" / "4-z" / "files"
    made.mkdir(parents=True)
    for name in ("a.pdf", "b.svg"):
        made.joinpath(name).write_text(name)
    assert files.folders_beginning("made/4-") == {"made/4-z"}
    files.take_in("made/4-z/files")
    assert files.names_in("made/4-z/files") == ("a.pdf", "b.svg")
    assert files.content("made/4-z/files/b.svg") == b"b.svg"


def test_files_are_at_hand_for_who_needs_them_on_a_disk(files: KeptFiles, tmp_path: Path) -> None:
    files.put("takes/3/a.wav", SOUND)
    files.put("made/1-x/files/lesson.json", b"{}")
    before = names(files)
    with files.at_hand("takes/3/a.wav", "made/1-x/files", "takes/9/none.wav", ".") as folder:
        assert (folder / "takes/3/a.wav").read_bytes() == SOUND
        assert (folder / "made/1-x/files/lesson.json").read_bytes() == b"{}"
        assert not (folder / "takes/9/none.wav").exists()
    assert names(files) == before
    if not isinstance(files, FolderFiles):
        left = [path for path in (tmp_path / "data").rglob("*") if path.is_file()]
        assert left == [], "nothing of it stays on the machine"


def test_a_recording_grows_by_pieces_each_once(files: KeptFiles) -> None:
    def add(first: int, end: int) -> int:
        with files.alone_with(GROWING):
            return files.add_piece(GROWING, SOUND[first:end], first=first, most=MOST)

    assert files.size(GROWING) is None
    assert add(4_000, 8_000) == 0, "what begins beyond the end is asked for from there"
    assert [add(0, 5_000), add(0, 5_000), add(3_000, 9_000)] == [5_000, 5_000, 9_000]
    assert (files.size(GROWING), files.content(GROWING)) == (9_000, SOUND[:9_000])
    assert b"".join(files.blocks(GROWING, 4_990, 5_010)) == SOUND[4_990:5_010]
    with pytest.raises(BriefError, match="too long"):
        files.add_piece(GROWING, SOUND, first=9_000, most=10_000)
    with files.at_hand(GROWING) as folder:
        assert (folder / GROWING).read_bytes() == SOUND[:9_000]
    (grown,) = files.files_below("recordings")
    assert grown[:2] == (GROWING, 9_000)
    files.remove_unless_younger(GROWING, time.time() - 60)
    assert names(files) == [GROWING]
    files.remove_unless_younger(GROWING, time.time() + 60)
    assert names(files) == []


def test_machines_that_are_sent_the_same_pieces_at_once_keep_them_once(files: KeptFiles) -> None:
    """Four each send all pieces, of lengths of their own."""

    def send(size: int) -> None:
        have = 0
        while have < len(SOUND):
            with files.alone_with(GROWING):
                piece = SOUND[have : have + size]
                have = files.add_piece(GROWING, piece, first=have, most=MOST)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(send, (900, 1000, 1500, 4000)))
    assert files.content(GROWING) == SOUND


def test_what_was_kept_anew_is_not_taken_for_old(files: KeptFiles) -> None:
    files.put("takes/3/a.wav", b"x")
    files.remove_unless_younger("takes/3/a.wav", time.time() - 60)
    files.remove_unless_younger("takes/3/none.wav", time.time() + 60)
    assert names(files) == ["takes/3/a.wav"]
    files.remove_unless_younger("takes/3/a.wav", time.time() + 60)
    assert names(files) == []
    assert files.trouble() == ""


@pytest.mark.parametrize(
    ("said", "line"),
    [
        ({FILES_VARIABLE: "s3://bucket"}, "say with HALFSTEP_DATABASE"),
        ({FILES_VARIABLE: "/srv", DATABASE_VARIABLE: "postgresql://h/d"}, "such as s3://BUCKET"),
        ({FILES_VARIABLE: "s3://key:word@x", DATABASE_VARIABLE: "postgresql://h/d"}, "s3://BUCKET"),
    ],
)
def test_what_is_no_address_of_a_store_is_one_line(
    said: dict[str, str], line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in said.items():
        monkeypatch.setenv(name, value)
    with pytest.raises(BriefError, match=line) as caught:
        School(tmp_path)
    assert "\n" not in str(caught.value)


def test_a_store_that_is_not_there_or_has_no_bucket_is_one_line(
    store: ObjectStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from halfstep.school import object_files

    assert store
    none = object_files.ObjectFiles("s3://no-such-bucket", tmp_path)
    assert "there is no such bucket" in none.trouble()
    with pytest.raises(StoreError, match="there is no such bucket"):
        none.put("takes/3/a.wav", b"x")
    monkeypatch.setenv("AWS_ENDPOINT_URL", "http://127.0.0.1:9")
    monkeypatch.setattr(object_files, "WAITS_S", 0)
    away = object_files.ObjectFiles("s3://no-such-bucket", tmp_path)
    assert "does not answer" in away.trouble()
    with pytest.raises(StoreError, match="stays in your browser") as caught:
        away.add_piece(GROWING, SOUND, first=0, most=MOST)
    assert os.environ["AWS_SECRET_ACCESS_KEY"] not in str(caught.value)
    assert "\n" not in str(caught.value)
