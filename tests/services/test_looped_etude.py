"""Are the bars that go round the same music as in the whole?"""

from __future__ import annotations

import pytest

from halfstep.data.etude_json import read_etude
from halfstep.errors import BriefError
from halfstep.services.looped_etude import looped_etude
from halfstep.services.opened_etude import opened_etude
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


def test_all_bars_are_the_whole() -> None:
    assert looped_etude(WHOLE, ()) is WHOLE
    assert looped_etude(WHOLE, (1, 8)) is WHOLE


@pytest.mark.parametrize("loop", [(0, 2), (3, 2), (1, 9), (1,), (1, 2, 3)])
def test_other_bars_are_refused(loop: tuple[int, ...]) -> None:
    with pytest.raises(BriefError, match=r"from 1 to 8"):
        looped_etude(WHOLE, loop)
