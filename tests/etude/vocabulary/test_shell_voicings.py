"""Shell voicings: under the hand, led by the least motion, on paper and in sound."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from briefs_over_charts import brief_over
from etude_charts import random_chart
from step_lines import CADENCE, line_of

from halfstep.data.line_json import note_data, read_notes
from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.line_edit import EditAction, LineEdit
from halfstep.etude.line_edits import edited
from halfstep.etude.steps import find_step
from halfstep.etude.vocabulary.fretboard import POSITION, TUNING, fingering_of
from halfstep.etude.vocabulary.voicing_line import shell_classes
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Clef, Striking
from halfstep.lesson.played_line import played_line
from halfstep.level import Level
from halfstep.meter import Feel, Meter
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from halfstep.render.musicxml_writer import write_musicxml
from halfstep.score import Score
from halfstep.score_words import score_words

STEP = "shell-voicings"
PLAYERS = [key for key, player in INSTRUMENTS.items() if player.striking is not Striking.ONE_NOTE]


def voicing(note: EtudeNote) -> tuple[int, ...]:
    assert note.pitch
    return (*(head.midi for head in reversed(note.below)), note.pitch.midi)


def voicings(etude: Etude) -> list[tuple[int, ...]]:
    return [voicing(note) for note in etude.notes if note.pitch]


def score_for(etude: Etude) -> Score:
    part = part_for(etude.analysis, etude.brief.instrument)
    return score_of(etude, part, title="Wednesday class", feel=Feel.SWING)


@pytest.mark.parametrize("player", PLAYERS)
@pytest.mark.parametrize("level", list(Level))
def test_every_voicing_has_the_third_and_the_seventh_and_lies_under_the_hand(
    player: str, level: Level
) -> None:
    """Over any chords: the upper voices within an octave, moving by a fifth at most.

    On a guitar four frets and open strings (common practice, no source), with the root below from
    the second level on; a keyboard reads the bass clef.
    """
    rng = random.Random(f"{player}{level}")
    for meter in (Meter(4, 4), Meter(3, 4), Meter(7, 8)):
        analysis = analyse(random_chart(rng, meter, silent=0.0), level=level)
        brief = Brief(INSTRUMENTS[player], level, 120.0, rng.randrange(9))
        etude = write_etude(find_step(STEP), analysis, brief)
        for note in etude.notes:
            if note.pitch is None:
                continue
            heads, chord = voicing(note), analysis.chords[note.chord]
            assert list(heads) == sorted(set(heads))
            assert {midi % 12 for midi in heads[-2:]} == set(shell_classes(chord))
            assert heads[-1] - heads[-2] <= 12
            if player == "guitar":
                way = fingering_of(heads)
                assert way
                assert len(set(way.strings)) == len(heads)
                stopped = [fret for fret in way.frets if fret]
                assert max(stopped, default=0) - min(stopped, default=0) < POSITION
                assert len(heads) == (2 if level is Level.BEGINNER else 3)
        for one, other in pairwise(voicings(etude)):
            assert max(abs(b - a) for a, b in zip(one[-2:], other[-2:], strict=True)) <= 7
        clef = Clef.TREBLE if player == "guitar" else Clef.BASS
        assert score_for(etude).clef is clef


def test_from_ii_to_v_one_voice_stays_and_the_other_falls_a_half_step() -> None:
    """Common practice, no source: the seventh of ii falls to the third of V."""
    etude = line_of(STEP, brief_over("key: C\n| Dm7 | G7 |", level="beginner"))
    one, other = voicings(etude)
    assert sorted(abs(b - a) for a, b in zip(one, other, strict=True)) == [0, 1]


def test_a_player_of_one_note_has_the_shells_broken_and_is_told() -> None:
    etude = line_of(STEP, brief_over(CADENCE, instrument="tenor-sax"))
    assert not any(note.below for note in etude.notes)
    assert [notice.text for notice in etude.notices] == [
        "you play one note at a time, so the shells are broken into their notes"
    ]
    for note in etude.notes:
        assert note.pitch is None or str(note.degree) in {"3", "7", "♭3", "♭7"}


def test_each_rule_of_voicings_is_broken_by_a_voicing_that_breaks_it() -> None:
    etude = line_of(STEP, brief_over("key: C\n| Dm7 | G7 | Cmaj7 |", level="beginner"))
    rules = {rule.text: rule for rule in find_step(STEP).rules}

    def told(rule: str, place: int, **changes: object) -> list[EtudeNote]:
        notes = list(etude.notes)
        notes[place] = notes[place]._replace(**changes)
        (chosen,) = (rules[text] for text in rules if text.startswith(rule))
        return list(chosen.breaches(replace(etude, notes=tuple(notes))))  # type: ignore[union-attr]

    low, high = parse_pitch("D3"), parse_pitch("F2")
    for rule in ("only the third", "every voicing lies", "no upper voice"):
        assert told(rule, 1) == []
    assert len(told("only the third", 1, below=(low,))) == 1
    assert len(told("every voicing lies", 1, below=(high,))) == 1
    assert len(told("no upper voice", 1, below=(high,))) == 2


def test_a_brief_without_a_voicing_is_refused_in_one_line() -> None:
    request = brief_over("key: C\n| Dm7 |", instrument="guitar", low="C5", high="E5")
    with pytest.raises(
        BriefError, match=r"no voicing of Dm7 lies under the hand .* widen the range"
    ):
        write_etude(find_step(STEP), request.analysis, request.brief)


@pytest.mark.parametrize(
    ("notes", "frets"),
    [((40, 52, 56), (0, 2, 1)), ((48, 58, 64), (3, 3, 5)), ((43, 53, 59), (3, 3, 4))],
)
def test_shells_lie_where_guitarists_play_them(
    notes: tuple[int, ...], frets: tuple[int, ...]
) -> None:
    """E A D G B E (standard tuning, common practice): E7 open, C7 and G7 at the third fret."""
    way = fingering_of(notes)
    assert way
    assert way.frets == frets
    assert [TUNING[6 - string] + fret for string, fret in zip(*way, strict=True)] == list(notes)


def test_an_open_string_is_no_part_of_the_position_and_a_wide_reach_has_none() -> None:
    assert fingering_of((40, 69)) is not None
    assert fingering_of((41, 54, 71)) is None or fingering_of((41, 46)) is None


@pytest.mark.parametrize("player", ["guitar", "piano"])
def test_a_chord_is_heard_read_and_written_as_one(player: str, tmp_path: Path) -> None:
    """In sound all heads at once; music21 reads the same chords back from MusicXML."""
    converter = pytest.importorskip("music21.converter")
    etude = line_of(STEP, brief_over(CADENCE, instrument=player))
    sounding = played_line(etude).notes
    by_onset = {
        note.onset: sorted(n.midi for n in sounding if n.onset == note.onset) for note in sounding
    }
    assert list(map(tuple, by_onset.values())) == voicings(etude)
    score = score_for(etude)
    struck = [note for bar in score.bars for note in bar.notes if note.below]
    assert all(len(note.heads) == (3 if player == "guitar" else 2) for note in struck)
    path = tmp_path / "shells.musicxml"
    write_musicxml(path, score)
    chords = converter.parse(path).recurse().getElementsByClass("Chord")
    written = [
        tuple(sorted(pitch.midi for pitch in chord.pitches))
        for chord in chords
        if chord.classes[0] == "Chord"
    ]
    assert written == [tuple(head.midi for head in reversed(note.heads)) for note in struck]
    assert any(" and " in words for words in score_words(score))


def test_an_edit_moves_the_highest_head_and_a_rest_has_none() -> None:
    etude = line_of(STEP, brief_over(CADENCE, instrument="guitar", level="beginner"))
    place, note = next((n, note) for n, note in enumerate(etude.notes) if note.pitch)
    low, high = voicing(note)

    def after(action: EditAction) -> EtudeNote:
        return edited(etude, LineEdit(action, note.onset)).notes[place]

    assert voicing(after(EditAction.OCTAVE_UP)) == (low, high + 12)
    assert voicing(after(EditAction.OCTAVE_DOWN)) == tuple(sorted((low, high - 12)))
    rest = after(EditAction.REST)
    assert (rest.pitch, rest.below) == (None, ())


def test_what_is_stored_of_a_chord_is_read_back() -> None:
    etude = line_of(STEP, brief_over(CADENCE, instrument="guitar"))
    part = part_for(etude.analysis, etude.brief.instrument)
    data = [note_data(note, part, note.chord) for note in etude.notes]
    assert [note.below for note in read_notes(data)] == [note.below for note in etude.notes]
    assert all(
        ("below" in row) == bool(note.below) for row, note in zip(data, etude.notes, strict=True)
    )
