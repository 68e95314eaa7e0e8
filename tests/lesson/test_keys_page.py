"""One pattern in twelve keys: every key once, the same line, always in the player's range.

The order by fourths is common practice, no source; the circle of fifths gives the signatures.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.keys_page import by_fourths, keys_page
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.part.transposition import interval_for
from halfstep.pitch import UNISON
from halfstep.progression.key import parse_key
from halfstep.render.staff_page import StaffPage
from halfstep.score import Mark, Score
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.write_etude import WriteEtude, write_one_etude

TURN = "| Dm7 | G7 | Cmaj7 | A7 |"


def reply_for(
    chart: str = TURN, step: str = "cells", player: str = "alto-sax", **more
) -> EtudeReply:
    return write_one_etude(WriteEtude(chart, step, instrument=player, all_keys=True, **more))


def page_of(reply: EtudeReply) -> tuple[StaffPage, tuple[str, ...]]:
    return keys_page(reply.etude, reply.part, title="Cells", feel=Feel.SWING, degrees=False)


def struck(score: Score) -> list[int]:
    """The MIDI numbers that are played anew."""
    midis, tied = [], False
    for note in (n for bar in score.bars for n in bar.notes):
        if note.pitch and not tied:
            midis.append(note.pitch.midi)
        tied = Mark.TIE in note.marks
    return midis


@pytest.mark.parametrize("home", ["C", "Am", "F#", "Gb", "Ebm", "B"])
def test_fourths_lead_through_twelve_keys_of_few_signs(home: str) -> None:
    key = parse_key(home)
    keys = [key + by_fourths(key, fourths) for fourths in range(12)]
    assert keys[0] == key
    assert len({k.tonic.pitch_class for k in keys}) == 12
    assert all((b.tonic.pitch_class - a.tonic.pitch_class) % 12 == 5 for a, b in pairwise(keys))
    assert all(-6 <= k.fifths <= 5 for k in keys[1:])
    assert by_fourths(key, 0) == UNISON


@pytest.mark.parametrize("player", ["alto-sax", "trombone", "flute", "guitar"])
def test_one_line_stands_in_all_keys_as_it_is(player: str) -> None:
    reply = reply_for(player=player)
    page, notices = page_of(reply)
    assert notices == ()
    assert len({block.heading for block in page.blocks}) == 12
    lines = [struck(block.score) for block in page.blocks]
    steps = [[b - a for a, b in pairwise(line)] for line in lines]
    assert len(lines) == 12
    assert all(each == steps[0] for each in steps)
    assert len({line[0] % 12 for line in lines}) == 12


@pytest.mark.slow
@pytest.mark.parametrize(
    ("player", "level"),
    [
        ("alto-sax", "intermediate"), ("trumpet", "beginner"), ("clarinet", "advanced"),
        ("voice", "beginner"),
    ],
)  # fmt: skip
def test_every_key_keeps_to_the_players_range(player: str, level: str) -> None:
    page, _ = page_of(reply_for(player=player, level=level, step="broken-arpeggio"))
    compass = INSTRUMENTS[player].compass(Level(level))
    for block in page.blocks:
        midis = struck(block.score)
        assert compass.low.midi <= min(midis) <= max(midis) <= compass.high.midi


def test_signatures_and_symbols_go_along() -> None:
    """Concert C is A for an alto saxophone; then D, G, C, F and so on."""
    page, _ = page_of(reply_for())
    assert [block.score.key_fifths for block in page.blocks] == [
        3,
        2,
        1,
        0,
        -1,
        -2,
        -3,
        -4,
        -5,
        -6,
        5,
        4,
    ]
    assert [block.heading for block in page.blocks][:2] == [
        "A major (concert C major)", "D major (concert F major)",
    ]  # fmt: skip
    assert [block.score.bars[0].chords[0].root for block in page.blocks] == [
        "B", "E", "A", "D", "G", "C", "F", "B♭", "E♭", "A♭", "C♯", "F♯",
    ]  # fmt: skip


def test_each_heading_names_the_key_that_sounds() -> None:
    page, _ = page_of(reply_for(player="trumpet"))
    trumpet = INSTRUMENTS["trumpet"]
    for block in page.blocks:
        written, _, concert = block.heading.removesuffix(")").partition(" (concert ")
        key = parse_key(concert.replace("♭", "b").replace("♯", "#"))
        assert str(key + interval_for(key, trumpet)) == written


def test_a_key_that_the_moved_line_does_not_fit_is_written_anew_or_left_out() -> None:
    """Five known notes, as of a first year: only what they can play is on the sheet."""
    known = {"G4": 67, "A4": 69, "B4": 71, "C5": 72, "D5": 74}
    reply = reply_for(
        "| C | F |", "root-third", "trumpet", known_notes=" ".join(known), level="beginner"
    )
    page, notices = page_of(reply)
    assert 1 <= len(page.blocks) < 12
    assert all(set(struck(block.score)) <= set(known.values()) for block in page.blocks)
    (left_out,) = (notice for notice in notices if notice.endswith("left out"))
    assert len(page.blocks) + left_out.count("major") == 12


def test_a_sheet_has_its_manner_and_says_its_keys() -> None:
    page, _ = page_of(reply_for("meter: 6/8\ntempo: 60\n| C | F |", player="concert"))
    assert page.manner.endswith("♩. = 60")
    assert page.description.startswith("Cells, in C major, F major, B♭ major,")
