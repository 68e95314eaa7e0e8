"""Slurs, ghost notes, scoops and falls are how a line is played: none is heard as a fault."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.etude.touches import touches
from halfstep.score import Mark
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHART = (
    "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 A7 | Dm7 G7 "
    "| Cmaj7 | C7 | Fmaj7 | Bb7 | Em7 | A7 | Dm7 G7 | C6 |"
)
SPECIAL = (Mark.SLUR, Mark.ACCENT, Mark.GHOST, Mark.SCOOP, Mark.FALL)


@pytest.mark.slow
@pytest.mark.parametrize(("player", "step", "seed"), [("alto-sax", "chorus", 2)])
def test_a_line_as_it_is_marked_is_heard_without_a_fault(
    player: str, step: str, seed: int, tmp_path: Path
) -> None:
    reply = write_one_etude(
        WriteEtude(CHART, step, instrument=player, level="advanced", seed=seed, ending=False)
    )
    marks = [touch.marks for touch in touches(reply.etude)]
    assert all(any(special in mark for mark in marks) for special in SPECIAL)
    take = tmp_path / "take.m4a"
    take.write_bytes(reply.parts_alone()["line"].data)
    etude = reply.file(".json").data.decode()
    told = give_feedback(GiveFeedback(take, etude=etude, headphones=True))
    data = told.data()
    line = data["summary"]["figures"]["line"]
    assert line["right"] == line["of"] == sum(note.pitch is not None for note in reply.etude.notes)
    assert [finding["kind"] for finding in data["findings"] if finding["fault"]] == []


@pytest.mark.slow
def test_an_etude_that_was_stored_is_opened_with_its_marks_and_an_older_one_without() -> None:
    import json

    from halfstep.services.edit_line import EditLine, edit_line

    reply = write_one_etude(WriteEtude(CHART, "one-line", level="advanced", instrument="flute"))
    text = reply.file(".json").data.decode()
    assert touches(edit_line(EditLine(text)).etude) == touches(reply.etude)
    older = json.loads(text)
    del older["articulated"]
    assert not any(t.marks for t in touches(edit_line(EditLine(json.dumps(older))).etude))


@pytest.mark.slow
def test_plain_leaves_the_marks_away() -> None:
    reply = write_one_etude(
        WriteEtude(CHART, "one-line", level="advanced", instrument="flute", plain=True)
    )
    assert not any(touch.marks or touch.dynamic for touch in touches(reply.etude))
    assert "<slur" not in reply.file(".musicxml").data.decode()
