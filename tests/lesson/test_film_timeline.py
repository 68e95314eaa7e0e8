"""When everything in a film happens, from the places of its line."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.lesson.film_timeline import (
    END_S,
    RING_S,
    TITLE_S,
    FilmLine,
    FilmTimeline,
    film_timeline,
)
from halfstep.services.make_film import MakeFilm, film_line

CHART = "| Am7 D7 | Gmaj7 | Cmaj7 | F#m7b5 B7 |"


def filmed(chart: str = CHART, step: str = "cells", **fields: object) -> FilmTimeline:
    asked = replace(MakeFilm(chart, step, tempi="120"), **fields)  # type: ignore[arg-type]
    return film_timeline(film_line(asked))


def line(chart: str = CHART, step: str = "cells", **fields: object) -> FilmLine:
    return film_line(replace(MakeFilm(chart, step, tempi="120"), **fields))  # type: ignore[arg-type]


def test_the_count_in_follows_the_title_and_counts_the_pulses_of_its_bar() -> None:
    """Four strokes half a second apart at 120, and bar 1 half a second after the last."""
    film = filmed(choruses=2)
    assert [(click.start_s, click.count) for click in film.clicks] == [
        (TITLE_S, 1), (TITLE_S + 0.5, 2), (TITLE_S + 1.0, 3), (TITLE_S + 1.5, 4)
    ]  # fmt: skip
    assert film.form_s == TITLE_S + 2.0


def test_a_chorus_of_four_bars_at_120_lasts_eight_seconds() -> None:
    """16 beats of half a second each."""
    film = filmed(choruses=3)
    assert [chorus.start_s - film.form_s for chorus in film.choruses] == [0.0, 8.0, 16.0]
    assert film.music_end_s - film.form_s == 24.0
    assert film.length_s == film.music_end_s + RING_S + END_S


def test_a_compound_metre_is_counted_by_its_dotted_beats() -> None:
    """Two strokes in a bar of 6/8."""
    film = filmed("meter: 6/8\n| Am7 | D7 | Gmaj7 | Gmaj7 |", "scale", tempi="60", choruses=1)
    assert [click.count for click in film.clicks] == [1, 2]
    assert film.form_s == TITLE_S + 2.0


def test_choruses_rise_when_tempi_do() -> None:
    """16 beats at 120, 150 and 180 last 8, 6.4 and 5.33 seconds."""
    film = filmed(tempi="120..180+30")
    lengths = [chorus.end_s - chorus.start_s for chorus in film.choruses]
    assert lengths == pytest.approx([8.0, 6.4, 16 / 3])
    assert [chorus.tempo_bpm for chorus in film.choruses] == [120.0, 150.0, 180.0]
    assert "120 to 180" in film.manner


def test_chords_are_those_that_the_player_reads() -> None:
    """An alto saxophone reads a major sixth higher: F♯m7 for Am7."""
    film = filmed(instrument="alto-sax", choruses=1)
    assert [str(chord.symbol) for chord in film.chords][:3] == ["F♯m7", "B7", "Emaj7"]
    first, second = film.score.bars[0].chords
    assert film.chords[0].text == first
    assert film.chords[1].text == replace(second, at=film.chords[1].text.at)


def test_what_changes_into_a_chord_stands_with_it() -> None:
    """Nothing precedes the first chord of all; from G7 to C7 the B falls to B♭, and rises again."""
    film = filmed("| G7 | C7 |", "scale", choruses=2)
    changes = [chord.change.printed if chord.change else None for chord in film.chords]
    assert changes == [None, "B♮ → B♭", "B♭ → B♮", changes[1]]


def test_the_ending_is_played_once_behind_the_last_chorus() -> None:
    """Its bar stands in the score, and only the last chorus has it."""
    film = filmed("| Cmaj7 | Am7 | Dm7 | G7 |", "cells", ending=True, choruses=2)
    places = [bar.place for bar in film.bars]
    assert places == [0, 1, 2, 3, 0, 1, 2, 3, 4]
    assert film.music_end_s == film.choruses[-1].end_s + 2.0


def test_sections_last_until_the_next_begins() -> None:
    """A bar without a name lies in the section before it."""
    film = filmed("[A] | G7 | C7 |\n[B] | F7 | D7 |", "scale", choruses=1)
    assert [bar.section for bar in film.bars] == ["A", "A", "B", "B"]


@pytest.mark.slow
@settings(max_examples=20, deadline=None)
@given(
    step=st.sampled_from(["arpeggio", "scale", "one-line", "guide-tones", "cells", "chorus"]),
    tempo=st.integers(40, 300),
    choruses=st.integers(1, 3),
    seed=st.integers(1, 9),
)
def test_heads_sound_one_after_another_within_the_film(
    step: str, tempo: int, choruses: int, seed: int
) -> None:
    """No head overlaps the next, each is of its bar, and each chorus has all heads of the score."""
    film = filmed(step=step, tempi=str(tempo), choruses=choruses, seed=seed)
    for head, following in pairwise(film.heads):
        assert head.start_s < head.end_s <= following.start_s
    pitched = {
        (place, number)
        for place, bar in enumerate(film.score.bars)
        for number, note in enumerate(bar.notes)
        if note.pitch
    }
    assert {(head.bar, head.note) for head in film.heads} == pitched
    lengths = [end.start_s - start.end_s for start, end in pairwise(film.chords)]
    assert lengths == pytest.approx([0.0] * len(lengths))
    assert film.chords[-1].end_s == pytest.approx(film.music_end_s)


def test_a_head_is_marked_where_it_is_heard() -> None:
    """The marks of the first chorus are the onsets of the line as it is played."""
    film = line(choruses=1)
    times = film_timeline(film)
    played = [
        film.clock.seconds(note.onset) + note.late_s + times.form_s
        for note in film.performed(0).notes
    ]
    assert [head.start_s for head in times.heads if head.is_struck] == pytest.approx(played)
