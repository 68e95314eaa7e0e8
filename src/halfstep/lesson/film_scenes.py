"""What is seen when? The times of a film -> its passages of scenes, one for each line of music.

Two lines stand one above the other, in upright films more. While one plays, the others show what
comes; one of them what was played before it and then, from the middle of its first bar on, what
comes last: so whoever reads over the bar line finds the next line in its place, and nothing moves
there.

Conventions
-----------
- A passage begins when its line does, and its frames are counted from there: the frame nearest to
  an onset is at most half a frame away from it, and passages of equal scenes have equal frames,
  whatever fraction of a frame a chorus lasts.
- Chords, tempo and bar are those of the moment that a frame is nearest to.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TypeVar

from halfstep.lesson.film_timeline import FilmBar, FilmChord, FilmTimeline
from halfstep.part.change_words import SCALE_STAYS
from halfstep.render.film_music import FilmMusic, line_visits
from halfstep.render.film_scene import (
    FilmPassage,
    Scene,
    SceneCard,
    SceneHeader,
    SceneLine,
    SceneMove,
)

Value = TypeVar("Value")

MOST_MOVES = 3
"""Notes that stand on the bar line between two chords."""
_LATEST_TURN_S = 1.0
"""The next line comes in the middle of a bar, but not later than this."""
_TURN_FRAMES = 5
"""Frames in which one line takes the place of another."""
COUNT_IN = "count-in"


@dataclass(frozen=True, slots=True)
class _Visit:
    """A line of music while it plays, with its bars."""

    line: int
    bars: tuple[FilmBar, ...]

    @property
    def start_s(self) -> float:
        return self.bars[0].start_s


def film_passages(film: FilmTimeline, music: FilmMusic, rate: int) -> tuple[FilmPassage, ...]:
    """All that is seen, at so many frames a second."""
    return tuple(_Passages(film, music, rate).all())


class _Passages:
    def __init__(self, film: FilmTimeline, music: FilmMusic, rate: int) -> None:
        self.film = film
        self.rate = rate
        self.places = len(music.staves)
        self.visits = list(_visits(film, music))
        self.headers = _headers(film.chords)

    def all(self) -> Iterator[FilmPassage]:
        film = self.film
        title = SceneCard(film.title, (film.heading, _facts(film), film.task))
        end = SceneCard(film.heading, (film.title, _facts(film), END_WORDS))
        yield from self._card(title, 0.0, film.sound_s)
        starts = [self._begins(visit) for visit in self.visits]
        yield self._lead_in(starts[0])
        ends = [*starts[1:], film.end_card_s]
        for number, (start_s, end_s) in enumerate(zip(starts, ends, strict=True)):
            yield self._visit(number, start_s, end_s)
        yield from self._card(end, film.end_card_s, film.length_s)

    def _begins(self, visit: _Visit) -> float:
        """When a line begins to play: with its first bar, or with a head that comes before it."""
        bar, start_s = visit.bars[0].place, visit.start_s
        heads = (head.start_s for head in self.film.heads if head.bar == bar)
        return min([start_s, *(s for s in heads if start_s - _EARLIEST_S < s < start_s)])

    def _frames(self, start_s: float, end_s: float) -> int:
        return max(1, round((end_s - start_s) * self.rate))

    def _card(self, card: SceneCard, start_s: float, end_s: float) -> Iterator[FilmPassage]:
        """A card in passages of a second, of which all but the last are equal."""
        while (frames := min(self.rate, round((end_s - start_s) * self.rate))) > 0:
            yield FilmPassage(start_s, ((frames, Scene(card=card)),))
            start_s += frames / self.rate

    # The count-in

    def _lead_in(self, end_s: float) -> FilmPassage:
        film, start_s = self.film, self.film.sound_s
        frames = self._frames(start_s, end_s)
        clicks, ends = film.clicks, [*(click.start_s for click in film.clicks[1:]), end_s]
        spans = (
            (click.start_s, end, click.count) for click, end in zip(clicks, ends, strict=False)
        )
        counts = self._each(spans, start_s, frames, 0)
        first = film.chords[0].text if film.chords else None
        lines = self._lines(0, frames, None)
        left = _strip(film)
        scenes = (
            Scene(
                lines=both,
                bar=bar,
                head=head,
                header=SceneHeader(count=count, following=first),
                left=left,
                right=COUNT_IN if film.clicks else "",
            )
            for both, bar, head, count in zip(
                lines, self._bars(start_s, frames), self._heads(start_s, frames), counts,
                strict=True,
            )
        )  # fmt: skip
        return FilmPassage(start_s, _runs(scenes))

    # A line

    def _visit(self, number: int, start_s: float, end_s: float) -> FilmPassage:
        film, visit = self.film, self.visits[number]
        frames = self._frames(start_s, end_s)
        bar = visit.bars[0]
        turn_s = min(_LATEST_TURN_S, (bar.end_s - bar.start_s) / 2)
        turn = round((bar.start_s + turn_s - start_s) * self.rate)
        chords = (
            (chord.start_s, chord.end_s, header)
            for chord, header in zip(film.chords, self.headers, strict=True)
        )
        last = self.headers[-1] if self.headers else SceneHeader()
        tempo = {chorus.number: f"♩ = {chorus.tempo_bpm:g}" for chorus in film.choruses}
        if len({chorus.tempo_bpm for chorus in film.choruses}) == 1:
            tempo = {}
        words = (
            (
                b.start_s,
                b.end_s,
                " · ".join(filter(None, (tempo.get(b.chorus), b.section, b.label))),
            )
            for b in visit.bars
        )
        columns = zip(
            self._lines(number, frames, turn),
            self._bars(start_s, frames),
            self._heads(start_s, frames),
            self._each(chords, start_s, frames, last),
            self._each(words, start_s, frames, ""),
            self._findings(start_s, frames),
            strict=True,
        )
        left = _strip(film)
        scenes = (
            Scene(
                lines=both, bar=bar, head=head, header=header, left=left, right=right,
                finding=finding,
            )
            for both, bar, head, header, right, finding in columns
        )  # fmt: skip
        return FilmPassage(start_s, _runs(scenes))

    def _lines(
        self, number: int, frames: int, turn: int | None
    ) -> Iterator[tuple[SceneLine | None, ...]]:
        """The places in each frame: the line that plays, those that come, and in the place of the
        one before it, from a frame on, what comes last.
        """
        coming = (number + ahead for ahead in range(1, self.places - 1))
        standing = {
            visit % self.places: self._line_at(visit) or self._line_at(visit - self.places)
            for visit in coming
        }
        standing[number % self.places] = SceneLine(self.visits[number].line, is_playing=True)
        before, after = self._line_at(number - 1), self._line_at(number - 1 + self.places)
        before, after = before or after, after or before
        for frame in range(frames):
            turned = after if turn is None else before
            if after and before and before != after and turn is not None and frame >= turn:
                share = (frame - turn + 1) / (_TURN_FRAMES + 1)
                fading = replace(after, instead_of=before.line, share=round(share, 3))
                turned = fading if share < 1 else after
            standing[(number - 1) % self.places] = turned
            yield tuple(standing.get(place) for place in range(self.places))

    def _line_at(self, number: int) -> SceneLine | None:
        if not 0 <= number < len(self.visits):
            return None
        return SceneLine(self.visits[number].line, is_playing=False)

    # What is so in each frame

    def _bars(self, start_s: float, frames: int) -> list[int | None]:
        spans = ((bar.start_s, bar.end_s, bar.place) for bar in self.film.bars)
        return self._each(spans, start_s, frames, None)

    def _heads(self, start_s: float, frames: int) -> list[tuple[int, int] | None]:
        spans = ((head.start_s, head.end_s, (head.bar, head.note)) for head in self.film.heads)
        return self._each(spans, start_s, frames, None)

    def _findings(self, start_s: float, frames: int) -> list[str]:
        spans = ((f.start_s, f.end_s, f.words) for f in self.film.findings)
        return self._each(spans, start_s, frames, "")

    def _each(
        self, spans: Iterable[tuple[float, float, Value]], start_s: float, frames: int, empty: Value
    ) -> list[Value]:
        """What is so in each frame of a passage: changes come with the nearest frame."""
        values = [empty] * frames
        for begins_s, ends_s, value in spans:
            first, end = (self._frame(time_s - start_s) for time_s in (begins_s, ends_s))
            for frame in range(max(0, first), min(frames, end)):
                values[frame] = value
        return values

    def _frame(self, time_s: float) -> int:
        return round(round(time_s, _DIGITS) * self.rate)


_EARLIEST_S = 0.25
"""A head of a bar sounds no more than this before it."""
_DIGITS = 6
"""Of seconds: what choruses differ by beyond them is rounding."""
END_WORDS = (
    "Play it slowly before fast, and softly enough to hear the band. Rest a minute or two every "
    "ten; stop when something hurts."
)
"""What the end card says to whoever plays; as on the sheets, common practice."""


def _visits(film: FilmTimeline, music: FilmMusic) -> Iterator[_Visit]:
    """The lines as they are played, from bar 1 on."""
    bars = tuple(bar for bar in film.bars if bar.chorus > 0)
    for line, places in line_visits([bar.place for bar in bars], music.line_of):
        yield _Visit(line, bars[places.start : places.stop])


def _headers(chords: Sequence[FilmChord]) -> list[SceneHeader]:
    """The header under each chord: what follows it, and what changes then."""
    return [
        _header(chord, following)
        for chord, following in zip(chords, [*chords[1:], None], strict=True)
    ]


def _header(chord: FilmChord, following: FilmChord | None) -> SceneHeader:
    if following is None:
        return SceneHeader(now=chord.text)
    told = following.change
    moves = [SceneMove(old, new) for old, new in told.moves] if told else []
    shown = moves if len(moves) <= MOST_MOVES else moves[: MOST_MOVES - 1]
    return SceneHeader(
        now=chord.text,
        following=following.text,
        moves=tuple(shown),
        more=len(moves) - len(shown),
        words=SCALE_STAYS if told and told.scale_stays else "",
    )


def _facts(film: FilmTimeline) -> str:
    return " · ".join(filter(None, (film.reader, film.manner)))


def _strip(film: FilmTimeline) -> str:
    return " · ".join(filter(None, (film.title, film.heading)))


def _runs(scenes: Iterable[Scene]) -> tuple[tuple[int, Scene], ...]:
    return tuple((len(list(same)), scene) for scene, same in groupby(scenes))
