"""Are the bars that go round the same music as in the whole?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfstep.data.etude_json import read_etude
from halfstep.errors import BriefError
from halfstep.progression.chart_difference import have_same_chords
from halfstep.progression.excerpt import WholeForm
from halfstep.services.edit_line import EditLine, edit_line
from halfstep.services.lesson_etude import opened_reply
from halfstep.services.looped_etude import looped_etude
from halfstep.services.opened_etude import opened_etude
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.take_frame import TakeFrame, frame_of
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 | Gm7 C7 | Am7 D7 | Gm7 C7 | F6 |"
WHOLE = write_one_etude(WriteEtude(CHART, "scale", instrument="alto-sax"))


def sounds(reply_etude: object, first: int = 0, end: int = 10_000) -> list[tuple[str, str, int]]:
    """What begins between two beats, counted from the first of them."""
    notes = reply_etude.notes  # type: ignore[attr-defined]
    return [
        (str(note.onset - first), str(note.beats), note.pitch.midi)
        for note in notes
        if note.pitch and first <= note.onset < end
    ]


def test_bars_of_a_line_are_those_of_the_whole() -> None:
    few = looped_etude(WHOLE, (3, 6))
    assert sounds(few.etude) == sounds(WHOLE.etude, 8, 24)
    scales = [str(chord.scale.mode.label) for chord in few.etude.analysis.chords]
    whole = [str(chord.scale.mode.label) for chord in WHOLE.etude.analysis.chords]
    assert scales == whole[2:8]
    assert few.etude.analysis.home == WHOLE.etude.analysis.home


def test_they_may_be_called_by_their_bars() -> None:
    few = looped_etude(WHOLE, (3, 6), title="bars 3 to 6")
    assert few.etude.analysis.chart.title == "bars 3 to 6"


def test_they_are_stored_and_opened_as_any_etude() -> None:
    text = looped_etude(WHOLE, (3, 6)).file(".json").data.decode()
    assert read_etude(text).chart.beats == 16
    assert len(opened_etude(text).etude.notes) > 0


def test_what_they_are_of_is_stored_with_them() -> None:
    text = looped_etude(WHOLE, (3, 6)).file(".json").data.decode()
    whole = read_etude(text).whole
    assert whole
    assert have_same_chords(whole.chart, WHOLE.etude.analysis.chart)
    assert (whole.first, whole.share(read_etude(text).chart)) == (3, 0.5)
    assert frame_of_etude(text).whole == whole
    assert looped_etude(opened_reply(opened_etude(text)), (2, 3)).whole == replace(whole, first=4)
    assert edit_line(EditLine(text)).written.whole == whole
    assert read_etude(WHOLE.file(".json").data.decode()).whole is None


def frame_of_etude(text: str) -> TakeFrame:
    """What a take of a stored etude is counted in."""
    return frame_of(lesson=None, beside=(), chart=None, tempo_bpm=None, instrument=None, etude=text)


def test_few_of_few_bars_are_of_the_whole() -> None:
    fewer = looped_etude(looped_etude(WHOLE, (3, 6)), (2, 3)).whole
    assert fewer == WholeForm(WHOLE.etude.analysis.chart, 4)


def test_in_another_key_they_are_of_the_whole_in_that_key() -> None:
    moved = room_piece(looped_etude(WHOLE, (3, 6)), RoomWish(key="D")).reply.whole
    assert moved
    assert str(moved.chart.key) == "D major"


def test_all_bars_are_the_whole() -> None:
    assert looped_etude(WHOLE, ()) is WHOLE
    assert looped_etude(WHOLE, (1, 8)) is WHOLE


@pytest.mark.parametrize("loop", [(0, 2), (3, 2), (1, 9), (1,), (1, 2, 3)])
def test_other_bars_are_refused(loop: tuple[int, ...]) -> None:
    with pytest.raises(BriefError, match=r"from 1 to 8"):
        looped_etude(WHOLE, loop)
