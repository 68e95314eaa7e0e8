"""What goes with a film as text? Captions, and its chapters.

Captions say which chord sounds and what changes into the next one, in words, for whoever cannot
see the film or hear it; chapters are the choruses and the sections in them.

Sources: W3C WebVTT (Candidate Recommendation 2019) for captions; one chapter a line, its time
first and the first one at 0:00, is common practice of pages with films, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from itertools import groupby

from halfstep.lesson.film_timeline import FilmChord, FilmTimeline
from halfstep.progression.symbol import in_words
from halfstep.render.film_file import FilmChapter

OPENING = "Title and count-in"
_LEAST_CAPTION_S = 0.04


def captions_text(film: FilmTimeline) -> str:
    """The captions of a film as WebVTT."""
    return cues_text([*_opening(film), *_chords(film.chords)])


def cues_text(cues: Iterable[tuple[float, float, str]]) -> str:
    """Texts with their times, in seconds, as WebVTT."""
    blocks = (
        f"{number}\n{_time(start_s)} --> {_time(end_s)}\n{_cue(text)}\n"
        for number, (start_s, end_s, text) in enumerate(cues, 1)
    )
    return "\n".join(["WEBVTT\n", *blocks])


def _opening(film: FilmTimeline) -> Iterator[tuple[float, float, str]]:
    yield 0.0, film.sound_s, " · ".join(filter(None, (film.title, film.heading)))
    if film.clicks:
        counted = " ".join(str(click.count) for click in film.clicks)
        yield film.sound_s, film.form_s, f"Count-in: {counted}"


def _chords(chords: tuple[FilmChord, ...]) -> Iterator[tuple[float, float, str]]:
    for chord, following in zip(chords, [*chords[1:], None], strict=True):
        if chord.end_s - chord.start_s < _LEAST_CAPTION_S:
            continue
        text = f"{chord.symbol}: {in_words(chord.symbol)}"
        if following is not None:
            told = following.change.spoken if following.change else in_words(following.symbol)
            text += f"\nThen {following.symbol}: {told}"
        yield chord.start_s, chord.end_s, text


def _cue(text: str) -> str:
    """Text of a cue: no empty line, no arrow, nothing that would be a tag."""
    lines = (" ".join(line.split()) for line in text.split("\n"))
    return escape("\n".join(filter(None, lines)) or "–", quote=False)


def _time(time_s: float) -> str:
    """A time as WebVTT has it.

    >>> _time(3725.5)
    '01:02:05.500'
    """
    seconds, milliseconds = divmod(round(1000 * time_s), 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}.{milliseconds:03}"


# Chapters


def film_chapters(film: FilmTimeline) -> tuple[FilmChapter, ...]:
    """The opening, each chorus, and each section in it."""
    starts = [(0.0, OPENING), *_parts(film)]
    ends = [start_s for start_s, _ in starts[1:]] + [film.length_s]
    return tuple(
        FilmChapter(start_s, end_s, title)
        for (start_s, title), end_s in zip(starts, ends, strict=True)
        if end_s > start_s
    )


def _parts(film: FilmTimeline) -> Iterator[tuple[float, str]]:
    bars = [bar for bar in film.bars if bar.chorus > 0]
    tempi = {chorus.number: chorus.tempo_bpm for chorus in film.choruses}
    is_rising = len(set(tempi.values())) > 1
    for (chorus, section), group in groupby(bars, key=lambda bar: (bar.chorus, bar.section)):
        title = f"Chorus {chorus}"
        if is_rising:
            title += f", ♩ = {tempi[chorus]:g}"
        yield next(group).start_s, " · ".join(filter(None, (title, section)))


def chapters_text(chapters: tuple[FilmChapter, ...]) -> str:
    """Chapters as lines to be pasted under a film: ``0:05 Chorus 1 · A``."""
    return "".join(f"{clock(chapter.start_s)} {chapter.title}\n" for chapter in chapters)


def clock(time_s: float) -> str:
    """A time as a viewer reads it, whole seconds.

    >>> clock(65.9), clock(3661)
    ('1:05', '1:01:01')
    """
    minutes, seconds = divmod(int(time_s), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"
