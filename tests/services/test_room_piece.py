"""Is a piece of the room what is asked for: key, tempo, style, and all its bars as sound?"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from halfstep.backing import STYLES
from halfstep.errors import BriefError, HalfstepError, NoSuchThing
from halfstep.lesson.keys_page import fitting_octave
from halfstep.meter import parse_meter
from halfstep.part.transposition import interval_of_fifths
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.room_piece import RoomWish, room_piece
from halfstep.services.room_sound import (
    COUNT_IN,
    ENDING,
    LEAST_FIRST_S,
    LEAST_S,
    PARTS,
    RoomSound,
    StretchWish,
)
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHART = "| Dm7 | G7 | Cmaj7 | A7 |"


def written(chart: str = CHART, step: str = "arpeggio", player: str = "alto-sax") -> EtudeReply:
    return write_one_etude(WriteEtude(chart, step, instrument=player))


LINE = written()


def test_what_is_not_asked_for_stays_as_it_is_written() -> None:
    piece = room_piece(LINE)
    assert piece.etude == LINE.etude
    assert piece.key == LINE.etude.analysis.home
    assert piece.keys[0] == piece.home
    assert len({key.tonic.pitch_class for key in piece.keys}) == 12


@pytest.mark.slow
@pytest.mark.parametrize("player", ["alto-sax", "trumpet", "trombone", "flute", "piano"])
def test_a_line_moves_as_it_is_to_every_key_it_fits_in(player: str) -> None:
    line = written(player=player)
    home = room_piece(line)
    for key in home.keys:
        piece = room_piece(line, RoomWish(key=key.ascii))
        assert piece.key.fifths == key.fifths
        midis = [note.pitch.midi for note in piece.etude.every_note if note.pitch]
        assert all(piece.etude.brief.has(midi) for midi in midis)
        before = [note.pitch.midi for note in line.etude.every_note if note.pitch]
        if fitting_octave(line.etude, interval_of_fifths(key.fifths - home.key.fifths)):
            assert len({new - old for new, old in zip(midis, before, strict=True)}) == 1
        chords = piece.etude.analysis.chords
        for note in piece.etude.notes:
            if note.pitch and note.degree:
                root = chords[note.chord].span.symbol.root
                assert note.pitch.name == root + note.degree.interval, "spelled by its chord"


def test_a_key_without_notes_that_are_known_is_said_so() -> None:
    few = write_one_etude(
        WriteEtude("| C7 | C7 |", "arpeggio", instrument="trumpet", known_notes="D4 F#4 A4 C5")
    )
    home, *others = room_piece(few).keys
    assert room_piece(few, RoomWish(key=home.ascii)).etude.notes == few.etude.notes
    with pytest.raises(BriefError, match="finds no line for trumpet"):
        room_piece(few, RoomWish(key=others[5].ascii))


@pytest.mark.parametrize("style", STYLES)
def test_the_band_plays_in_any_style(style: object) -> None:
    name = style.name  # type: ignore[attr-defined]
    piece = room_piece(LINE, RoomWish(feel=name, tempo_bpm=97.5))
    assert (piece.style.name, piece.tempo_bpm) == (name, 97.5)
    assert piece.etude.notes == LINE.etude.notes
    assert RoomSound(piece).lesson.brief.band_style.name == name


@pytest.mark.parametrize(
    ("wish", "line"),
    [
        (RoomWish(tempo_bpm=39), "tempo_bpm 39: give pulses a minute from 40 to 300"),
        (RoomWish(tempo_bpm=301), "tempo_bpm 301"),
        (RoomWish(key="H"), "'H'"),
        (RoomWish(feel="slowly"), "style 'slowly': choose from swing"),
    ],
)
def test_what_cannot_be_is_one_line(wish: RoomWish, line: str) -> None:
    with pytest.raises(HalfstepError, match=line):
        room_piece(LINE, wish)


@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "7/4"])
@pytest.mark.parametrize("bars", [1, 12, 64])
def test_stretches_are_all_bars_of_a_chorus_each_once(meter: str, bars: int) -> None:
    line = written(f"meter: {meter}\n" + "| Dm7 " * bars + "|", "root-third")
    for tempo_bpm in (40, 120, 300):
        sound = RoomSound(room_piece(line, RoomWish(tempo_bpm=tempo_bpm)))
        assert_whole(sound, meter, bars)


def assert_whole(sound: RoomSound, meter: str, bars: int) -> None:
    cut = sound.stretches
    assert (cut[0].first, cut[-1].last) == (1, bars)
    assert (cut[0].start, cut[-1].end) == (0, sound.beats)
    assert all(after.first == before.last + 1 for before, after in pairwise(cut))
    assert all(after.start == before.end for before, after in pairwise(cut))
    lasting = [sound.clock.seconds(part.end) - sound.clock.seconds(part.start) for part in cut]
    longest_bar_s = sound.clock.seconds(parse_meter(meter).bar_beats)
    assert lasting[0] < LEAST_FIRST_S + longest_bar_s
    assert all(lasts < LEAST_S + longest_bar_s + 1e-6 for lasts in lasting)
    assert sound.block == {1: 4, 12: 4, 64: 1}[bars]
    if bars == 1:  # where it is soon written
        assert sound.count_in_beats == sound.lesson.lead_in.beats


@pytest.mark.slow
def test_every_part_sounds_and_choruses_differ() -> None:
    sound = RoomSound(room_piece(LINE))
    files = {part: sound.file(StretchWish(part, 1, 1, 2)) for part in PARTS}
    assert len({file.data for file in files.values()}) == len(PARTS)
    for file in files.values():
        assert file.data[4:8] == b"ftyp"
        assert file.frames % 1024 == 0
    bass = [sound.file(StretchWish("bass", chorus, 1, 2)).data for chorus in (1, 2, 5)]
    assert bass[0] != bass[1]
    assert bass[0] == bass[2], "the first chorus of the block again"


def test_what_is_the_same_sound_has_one_mark() -> None:
    sound, again = RoomSound(room_piece(LINE)), RoomSound(room_piece(LINE, RoomWish(key="C")))
    other = RoomSound(room_piece(written(step="root-third")))
    drums, line = StretchWish("drums", 1, 1, 2), StretchWish("line", 1, 1, 2)
    assert sound.mark(drums) == again.mark(drums) == other.mark(drums)
    assert sound.mark(drums._replace(chorus=5)) == sound.mark(drums)
    assert sound.mark(line) != other.mark(line)
    marks = [
        RoomSound(room_piece(LINE, wish)).mark(drums)
        for wish in (RoomWish(), RoomWish(tempo_bpm=101), RoomWish(key="F"), RoomWish(feel="funk"))
    ]
    assert len({*marks, sound.mark(drums._replace(last=3)), sound.mark(line)}) == 6


def test_a_pickup_is_counted_in_and_an_ending_follows() -> None:
    line = write_one_etude(WriteEtude(CHART, "call-and-response", instrument="flute", ending=True))
    sound = RoomSound(room_piece(line))
    assert sound.ending_beats == (4 if line.etude.ending else 0)
    assert sound.file(StretchWish("click", COUNT_IN)).data
    has_ending = bool(sound.file(StretchWish("bass", ENDING)).data)
    assert has_ending == bool(line.etude.ending)
    assert not sound.file(StretchWish("bass", COUNT_IN)).data


def test_other_bars_and_parts_are_refused() -> None:
    sound = RoomSound(room_piece(LINE))
    for first, last in ((0, 1), (3, 2), (4, 5)):
        with pytest.raises(BriefError, match="the form has bars 1 to 4"):
            sound.file(StretchWish("drums", 1, first, last))
    with pytest.raises(NoSuchThing, match="there is no part horn"):
        sound.file(StretchWish("horn", 1))
    assert Fraction(sound.beats) == 16
