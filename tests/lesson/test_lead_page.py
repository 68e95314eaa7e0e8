"""What a lead sheet shows to its reader: chords, line, key and order, in written pitch.

Transpositions: music21's instrument classes, as in `halfstep.instruments`. Which octave a
melody stands in is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from halfstep.errors import BriefError
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.lead_page import lead_page
from halfstep.level import Level
from halfstep.part.lead_sheet import READERS, find_reader
from halfstep.pitch import parse_pitch
from halfstep.progression.sheet import LeadSheet, SheetNote
from halfstep.render.staff_page import StaffPage
from halfstep.score import Barline
from halfstep.services.read_chart import ReadChart, read_chart

CHART = """\
key: Ab
tempo: 96
feel: swing
{pickup 1} Eb7
[A]
|: Abmaj7 | Fm7 :|
[B]
| Db6 Gb7 | N.C. |
"""


def page_for(reader: str | None = None, chart: str | LeadSheet = CHART) -> StaffPage:
    reply = read_chart(ReadChart(chart, instrument=reader))
    return lead_page(reply.sheet, reply.player, interval=reply.interval)


def roots(page: StaffPage) -> list[str]:
    (block,) = page.blocks
    return [c.root or c.plain for bar in block.score.bars for c in bar.chords]


@pytest.mark.parametrize(
    ("reader", "label", "fact", "first", "clef"),
    [
        (None, "Concert pitch", "A♭ major", "E♭ A♭ F D♭ G♭ N.C.", "treble"),
        ("bb", "B♭ instruments", "B♭ major (concert A♭ major)", "F B♭ G E♭ A♭ N.C.", "treble"),
        ("Eb", "E♭ instruments", "F major (concert A♭ major)", "C F D B♭ E♭ N.C.", "treble"),
        ("B♭", "B♭ instruments", "B♭ major (concert A♭ major)", "F B♭ G E♭ A♭ N.C.", "treble"),
        ("bass-clef", "Bass clef", "A♭ major", "E♭ A♭ F D♭ G♭ N.C.", "bass"),
        ("alto-sax", "Alto saxophone", "F major (concert A♭ major)", "C F D B♭ E♭ N.C.", "treble"),
    ],
)  # fmt: skip
def test_each_reader_has_key_chords_and_clef(
    reader: str | None, label: str, fact: str, first: str, clef: str
) -> None:
    page = page_for(reader)
    assert (page.reader, page.facts) == (label, (fact,))
    assert roots(page) == first.split()
    assert page.blocks[0].score.clef == clef


def test_no_reader_hides_an_instrument() -> None:
    assert not set(READERS) & set(INSTRUMENTS)
    assert all(find_reader(key) is instrument for key, instrument in INSTRUMENTS.items())


def test_a_reader_that_is_not_known_is_told_all_there_are() -> None:
    with pytest.raises(BriefError, match=r"choose from concert.*or bb, eb, bass-clef"):
        find_reader("bflat")


def test_feel_and_tempo_stand_over_the_music_where_they_are_known() -> None:
    assert page_for().manner == "Swing ♩ = 96"
    assert page_for(chart="meter: 6/8\ntempo: 70\n| C |").manner == "♩. = 70"
    assert page_for(chart="| C | F |").manner == ""


def test_a_chart_without_a_melody_has_slashes_and_double_bars_before_sections() -> None:
    bars = page_for().blocks[0].score.bars
    assert all(bar.slashes for bar in bars)
    assert [bar.barline for bar in bars] == [
        Barline.SINGLE, Barline.SINGLE, Barline.DOUBLE, Barline.SINGLE, Barline.FINAL,
    ]  # fmt: skip
    assert bars[0].number == 0


def sung(*notes: str) -> LeadSheet:
    """Two bars, the first with a melody."""
    sheet = read_chart(ReadChart("| C | G7 |")).sheet
    line = tuple(SheetNote(Fraction(n), Fraction(1), parse_pitch(p)) for n, p in enumerate(notes))
    return replace(sheet, bars=(sheet.bars[0]._replace(notes=line), sheet.bars[1]))


def test_a_melody_is_drawn_and_its_empty_bars_rest() -> None:
    first, second = page_for(chart=sung("E4", "G4", "C5")).blocks[0].score.bars
    assert [str(n.pitch) for n in first.notes if n.pitch] == ["E4", "G4", "C5"]
    assert not first.slashes
    assert not second.slashes


@pytest.mark.parametrize(
    ("reader", "first"),
    [(None, "G5"), ("bb", "A4"), ("eb", "E5"), ("bass-clef", "G3"), ("tenor-sax", "A5")],
)
def test_a_melody_stands_in_the_octave_that_its_reader_has(reader: str | None, first: str) -> None:
    """G5 to C6 lies over a trombone's notes; a part for alto would begin on E6."""
    notes = page_for(reader, sung("G5", "A5", "C6")).blocks[0].score.bars[0].notes
    assert str(notes[0].pitch) == first
    player = find_reader(reader or "concert")
    compass = player.compass(Level.INTERMEDIATE)
    assert all(note.pitch in compass for note in notes if note.pitch)


def test_the_page_in_words_has_every_chord() -> None:
    assert page_for("eb").description.endswith(
        "bar by bar. 0: C7; 1: Fmaj7; 2: Dm7; 3: B♭6 E♭7; 4: N.C.."
    )
