"""A stored line edited, undone, written anew around bars that stand, and seen in other versions."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from halfstep.errors import BriefError
from halfstep.etude.line_edit import EditAction, LineEdit, LineRewriting
from halfstep.etude.written_etude import Etude
from halfstep.services import edit_line as edit_line_module
from halfstep.services.edit_line import MOST_EDITS, EditLine, drawn_names, edit_line
from halfstep.services.line_versions import LineVersions, line_versions, shared_bars
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHARTS = {
    "evening class": "key: F\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |",
    "waltz": "meter: 3/4\nkey: G\n| Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7b9 | Am7 | D7 |",
    "five": "meter: 5/4\nkey: Ab\n| Abmaj7 | Fm7 | Bbm7 | Eb7 |",
    "two halves": "meter: 2/2\nkey: D\n| D | G A | Bm | A7 |",
    "sections": "key: F\n[A]\n| Fmaj7 | Gm7 | C7 | F6 |\n[B]\n| Bb | Bbm | F | C7 |\n",
    "twice": "|: Dm7 | G7 :| Cmaj7 | A7 |",
    "pickup": "key: C\n{pickup 1} G7 | Cmaj7 | A7 | N.C. | Dm7 G7 |",
    "one bar": "| C7 |",
}
PLAYERS = dict(zip(CHARTS, ("alto-sax", "trombone", "piano", "clarinet") * 2, strict=True))


@cache
def stored(chart: str, step: str = "chorus") -> str:
    request = WriteEtude(CHARTS[chart], step, instrument=PLAYERS[chart], seed=3)
    return write_one_etude(request).file(".json").data.decode()


def edit(action: str, at: object) -> LineEdit:
    return LineEdit(EditAction(action), Fraction(str(at)))


# Opened as it was


@pytest.mark.parametrize("chart", CHARTS)
def test_a_stored_etude_opens_as_it_was_written(chart: str) -> None:
    """On the staff, its sections and its ending too, and as data."""
    request = WriteEtude(CHARTS[chart], "chorus", instrument=PLAYERS[chart], seed=3)
    written = write_one_etude(request)
    reply = edit_line(EditLine(stored(chart)))
    assert reply.score() == written.score()
    assert (reply.etude.ending, reply.part) == (written.etude.ending, written.part)
    assert reply.notices == ()
    old, new = json.loads(stored(chart)), json.loads(reply.data())
    assert {**old, "notices": []} == new


def test_a_file_of_it_is_as_good_as_its_text(tmp_path: Path) -> None:
    (tmp_path / "line.json").write_text(stored("waltz"), encoding="utf-8")
    assert edit_line(EditLine(tmp_path / "line.json")) == edit_line(EditLine(stored("waltz")))


@pytest.mark.parametrize("text", ["", "{}", "no etude", '{"format": "halfstep-etude"}'])
def test_what_is_no_etude_is_told_in_a_line(text: str) -> None:
    with pytest.raises(BriefError, match=r"etude: (give an etude|it is of a version)"):
        edit_line(EditLine(text))


def test_a_file_that_is_not_there_is_told_in_a_line(tmp_path: Path) -> None:
    with pytest.raises(BriefError, match="etude: cannot be read"):
        edit_line(EditLine(tmp_path / "none.json"))


def test_a_stored_note_of_no_chord_is_told_in_a_line() -> None:
    data = json.loads(stored("waltz"))
    data["notes"][0]["chord"] = 99
    with pytest.raises(BriefError, match="etude: its notes are not as halfstep writes them"):
        edit_line(EditLine(json.dumps(data)))


# Edited and undone


def test_edits_are_made_in_order_and_undone_by_a_shorter_list() -> None:
    text = stored("evening class")
    first = next(note for note in edit_line(EditLine(text)).etude.notes if note.pitch)
    edits = (edit("split", first.onset), edit("step-up", first.onset), edit("join", first.onset))
    lines = [edit_line(EditLine(text, edits[:count])) for count in range(4)]
    assert [len(line.etude.notes) - len(lines[0].etude.notes) for line in lines] == [0, 1, 1, 0]
    assert lines[3].edits == edits
    assert lines[3].etude.notes[0].pitch != first.pitch
    assert edit_line(EditLine(text, edits[:0])).etude == lines[0].etude


def test_an_edit_that_cannot_be_made_ends_the_list_and_says_why() -> None:
    text = stored("evening class")
    first = next(note for note in edit_line(EditLine(text)).etude.notes if note.pitch)
    edits = (edit("step-up", first.onset), edit("note", first.onset), edit("split", first.onset))
    reply = edit_line(EditLine(text, edits))
    assert reply.edits == edits[:1]
    assert reply.refused.endswith("is a note already")
    assert reply.etude == edit_line(EditLine(text, edits[:1])).etude


@pytest.mark.slow
def test_many_edits_are_made_one_upon_the_other(monkeypatch: pytest.MonkeyPatch) -> None:
    text = stored("one bar")
    first = next(note for note in edit_line(EditLine(text)).etude.notes if note.pitch)
    up, down = edit("half-step-up", first.onset), edit("half-step-down", first.onset)
    edit_line_module._after.cache_clear()
    reply = edit_line(EditLine(text, (up, down) * (MOST_EDITS // 2)))
    assert [n.pitch for n in reply.etude.notes] == [
        n.pitch for n in edit_line(EditLine(text)).etude.notes
    ]
    made: list[LineEdit] = []
    one_edit = edit_line_module.edited

    def counted(etude: Etude, one: LineEdit) -> Etude:
        made.append(one)
        return one_edit(etude, one)

    monkeypatch.setattr(edit_line_module, "edited", counted)
    higher = edit("octave-up", first.onset)
    edit_line(EditLine(text, (*(up, down) * 200, higher)))
    assert made == [higher], "what was made before is kept"
    with pytest.raises(BriefError, match="edits: 500 at most"):
        edit_line(EditLine(text, (up,) * (MOST_EDITS + 1)))


def test_what_breaks_a_rule_is_said_with_its_bar_and_is_no_longer_once_it_is_undone() -> None:
    text = stored("evening class")
    last = edit_line(EditLine(text)).etude.notes[-1]
    high = (edit("octave-up", last.onset), edit("octave-up", last.onset))
    notices = edit_line(EditLine(text, high)).notices
    bars = {notice.bar for notice in notices if "range" in notice.text}
    assert bars == {8}
    assert edit_line(EditLine(text, high[:0])).notices == ()


# Bars that stand


@pytest.mark.slow
def test_locked_bars_stand_and_the_rest_is_written_anew() -> None:
    text = stored("evening class")
    at = next(note.onset for note in edit_line(EditLine(text)).etude.notes if note.pitch)
    edits = (edit("half-step-up", at),)
    before = edit_line(EditLine(text, edits))
    rewritten = EditLine(text, (*edits, LineRewriting(40, (1, 2, 8))))
    after = edit_line(rewritten)
    starts = {bar.number: start for bar, start in after.etude.analysis.chart.placed()}

    def bar(line: object, number: int) -> list[object]:
        start = starts[number]
        notes = line.etude.notes  # type: ignore[attr-defined]
        return [(n.onset, n.pitch) for n in notes if start <= n.onset < start + 4]

    assert all(bar(before, number) == bar(after, number) for number in (1, 2, 8))
    assert any(bar(before, number) != bar(after, number) for number in (3, 4, 5, 6, 7))
    edit_line_module._after.cache_clear()
    assert after == edit_line(rewritten), "the same again"
    last = edit("octave-down", next(n.onset for n in after.etude.notes if n.pitch))
    assert edit_line(replace(rewritten, edits=(*rewritten.edits, last))).refused == ""


def test_what_cannot_be_written_around_the_bars_that_stand_is_refused() -> None:
    reply = edit_line(EditLine(stored("evening class"), (LineRewriting(-1),)))
    assert (reply.edits, reply.refused) == ((), "seed -1: give a whole number, 0 or more")


@pytest.mark.slow
def test_three_other_versions_share_few_bars_with_the_line_and_each_other() -> None:
    text = stored("evening class")
    versions = line_versions(LineVersions(text))
    lines = [edit_line(EditLine(text)), *versions]
    assert len({line.etude.brief.seed for line in versions}) == 3
    shares = [shared_bars(a.etude, b.etude) for a, b in combinations(lines, 2)]
    assert max(shares) <= 0.25
    locked = line_versions(LineVersions(text, locked_bars="1-4", versions=1))
    assert 0.5 <= shared_bars(locked[0].etude, lines[0].etude) <= 0.75
    assert locked[0].edits == (LineRewriting(locked[0].etude.brief.seed, (1, 2, 3, 4)),)
    with pytest.raises(BriefError, match="locked_bars '9': the chart has bars 1 to 8"):
        line_versions(LineVersions(text, locked_bars="9"))
    with pytest.raises(BriefError, match="versions 9: ask for 1 to 4"):
        line_versions(LineVersions(text, versions=9))


# Drawn


@pytest.mark.parametrize("chart", CHARTS)
def test_all_that_is_drawn_of_a_note_bar_and_chord_has_its_name(chart: str) -> None:
    reply = edit_line(EditLine(stored(chart)))
    drawn = "".join(picture.svg for picture in reply.pictures(width_mm=178.0))
    starts = {str(note.onset) for note in reply.etude.every_note}
    names = set(re.findall(r'data-note="([^"]*)"', drawn))
    silent = [note for note in reply.etude.notes if note.pitch is None]
    assert {str(n.onset) for n in reply.etude.every_note if n.pitch} <= names
    assert names <= starts | {"-1"}
    assert len(starts - names) <= len(silent)
    score = reply.score()
    assert re.findall(r'data-bar="([^"]*)"', drawn) == [str(bar.number) for bar in score.bars]
    chords = sum(len(bar.chords) for bar in score.bars)
    assert len(re.findall(r"data-chord", drawn)) == chords
    assert len(drawn_names(score, reply.etude)) == chords + sum(
        1 + len(bar.notes) for bar in score.bars
    )
