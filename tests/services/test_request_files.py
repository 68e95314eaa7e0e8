"""Does every request make its files in the folder that is meant, and none anywhere else?"""

from __future__ import annotations

import random
import wave
from collections.abc import Sequence
from pathlib import Path

import pytest

from halfstep.errors import ReadError
from halfstep.services import request_files
from halfstep.services.check_course import CheckCourse
from halfstep.services.explain_chart import ExplainChart
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.hear_take import HearTake
from halfstep.services.list_sounds import ListSounds
from halfstep.services.make_backing import MakeBacking
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.outline_line import OutlineLine
from halfstep.services.read_chart import ReadChart
from halfstep.services.request_files import make_files, with_files_below
from halfstep.services.show_course import ShowCourse
from halfstep.services.show_progress import ShowProgress
from halfstep.services.stored_requests import REQUESTS, Request
from halfstep.services.write_etude import WriteEtude

CHART = "| C6 | G7 |"
ELSEWHERE = Path("elsewhere")

MADE: Sequence[tuple[Request, set[str]]] = (
    (ReadChart(CHART), {"chart.pdf"}),
    (ExplainChart(CHART), {"changes.json", "changes.pdf", "changes.svg"}),
    (WriteEtude(CHART, "arpeggio", all_keys=True), {"etude.pdf"}),
    (MakeBacking(CHART, ELSEWHERE, tempi="200", choruses=1), {"backing.m4a"}),
    (ListSounds(), set()),
    (ShowCourse(), {"course.json", "course.pdf", "course.svg"}),
    (ShowProgress("alto-sax"), {"progress.svg", "progress.pdf"}),
)
"""What is made in half a second."""


class Told:
    """What was told of the work."""

    def __init__(self) -> None:
        self.shares: list[float] = []

    def __call__(self, share: float, work: str) -> None:
        """Take it down."""
        assert work
        self.shares.append(share)


def names_in(folder: Path) -> set[str]:
    """The files of a folder."""
    return {path.name for path in folder.iterdir()}


@pytest.mark.sampled
@pytest.mark.parametrize(("request_made", "names"), MADE, ids=lambda value: type(value).__name__)
def test_a_request_makes_its_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, request_made: Request, names: set[str]
) -> None:
    folder = tmp_path / "files"
    folder.mkdir()
    monkeypatch.chdir(tmp_path)
    files = make_files(request_made, folder, progress=Told())
    assert set(files.names) == names_in(folder) == names
    assert names_in(tmp_path) == {"files"}


@pytest.mark.slow
def test_what_was_written_is_heard_judged_and_measured(tmp_path: Path) -> None:
    """An etude's files; the sound of it taken for a take; its notes for a line."""
    told = Told()
    etude = make_files(WriteEtude(CHART, "arpeggio", instrument="flute"), tmp_path, progress=told)
    assert etude.names == ("etude.json", "etude.pdf", "etude.musicxml", "etude.mid", "etude.m4a")
    sound, data = tmp_path / "etude.m4a", tmp_path / "etude.json"
    take = make_files(HearTake(sound, etude=data), tmp_path / "take", progress=told)
    assert set(take.names) >= {"take.json", "take.mid", "take.pdf", "take.musicxml"}
    told = Told()
    judged = GiveFeedback(sound, etude=data, headphones=True)
    feedback = make_files(judged, tmp_path / "feedback", progress=told)
    assert set(feedback.names) >= {"feedback.json", "feedback.pdf"}
    assert set(feedback.names) == names_in(tmp_path / "feedback")
    assert told.shares == sorted(told.shares)
    assert 0 <= told.shares[0] < told.shares[-1] <= 1
    line = make_files(
        OutlineLine(tmp_path / "etude.mid", chart=CHART), tmp_path / "outline", progress=told
    )
    assert line.names == ("outline.json",)


@pytest.mark.slow
def test_a_lesson_is_made_where_it_is_meant_to_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    lesson = MakeLesson(CHART, ELSEWHERE, instruments=("flute::Odile",), steps="1")
    assert "lesson.json" in make_files(lesson, tmp_path / "lesson", progress=Told()).names
    assert names_in(tmp_path) == {"lesson"}


def test_a_take_without_a_note_is_data_alone(tmp_path: Path) -> None:
    """There is nothing to write on a staff."""
    with wave.open(str(tmp_path / "noise.wav"), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(random.Random(1).randbytes(16000 * 2 * 2))
    files = make_files(HearTake(tmp_path / "noise.wav"), tmp_path / "take", progress=Told())
    assert files.names == ("take.json",)


def test_faults_of_a_course_are_notices(tmp_path: Path) -> None:
    (tmp_path / "unit.toml").write_text("title = ")
    files = make_files(CheckCourse(tmp_path), tmp_path, progress=Told())
    assert files.names == ()
    assert files.notices[0].startswith("unit.toml: ")


def test_no_file_is_left_of_a_request_that_cannot_be_carried_out(tmp_path: Path) -> None:
    with pytest.raises(ReadError, match="Qx"):
        make_files(ReadChart("| Qx |"), tmp_path, progress=Told())
    assert names_in(tmp_path) == set()


def test_every_request_that_can_be_stored_can_be_carried_out() -> None:
    assert set(request_files._MAKERS) == set(REQUESTS.values())


def test_names_of_files_are_taken_from_a_folder_unless_they_begin_at_the_root() -> None:
    take = GiveFeedback(Path("takes/7/take.wav"), chart=CHART, words=Path("/words.txt"))
    placed = with_files_below(take, Path("/kept"))
    assert placed == GiveFeedback(
        Path("/kept/takes/7/take.wav"), chart=CHART, words=Path("/words.txt")
    )
