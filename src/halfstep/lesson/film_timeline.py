"""What happens when in a film of a line? Cards, count-in, choruses, bars, note heads and chords.

No pixel and no sound is in it: whoever draws a film, captions it, parts it into chapters or says
what to tell of it goes by the same times.

Conventions
-----------
- Times are seconds from the first frame of the film.
- A title card comes first, in silence; the sound of the film begins behind it, with the count-in.
  An end card closes it when the last note has rung out.
- Bars are those of the score, in the order in which they are played; a bar that is played again
  in another chorus is another `FilmBar` of the same place in the score.
- Note heads are marked where they sound, not where they are written: swing, and what a player is
  late by, are in it. What is tied on is marked at its written place.
- All names are those that the player reads.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from halfstep.backing.performance import line_performance
from halfstep.etude.written_etude import ExerciseLine
from halfstep.lesson.backings import RisingClock
from halfstep.lesson.brief import LessonBrief
from halfstep.lesson.lead_in import LeadIn, lead_in
from halfstep.lesson.make import piece_clock
from halfstep.lesson.played_line import parted, played_line
from halfstep.meter import Clock
from halfstep.notation import onsets, sounding_beats
from halfstep.part.change_words import ToldChange, told_change
from halfstep.part.chord_text import chord_text
from halfstep.part.etude_score import score_of
from halfstep.part.facts import manner_fact
from halfstep.part.transposed_part import Part
from halfstep.played import PlayedPart
from halfstep.progression.symbol import ChordSymbol
from halfstep.score import ChordText, Mark, Score

TITLE_S = 3.0
"""How long the title card stands."""
RING_S = 1.5
"""How long the last line stands while the sound rings out."""
END_S = 3.5
"""How long the end card stands."""


@dataclass(frozen=True, slots=True)
class FilmClick:
    """A stroke of the count-in.

    Attributes
    ----------
    start_s : float
    count : int
        What a player counts there, from 1.
    """

    start_s: float
    count: int


@dataclass(frozen=True, slots=True)
class FilmChorus:
    """Once through the form.

    Attributes
    ----------
    number : int
        From 1.
    start_s, end_s : float
    tempo_bpm : float
        Pulses a minute.
    """

    number: int
    start_s: float
    end_s: float
    tempo_bpm: float


@dataclass(frozen=True, slots=True)
class FilmBar:
    """A bar as it is played.

    Attributes
    ----------
    place : int
        In ``Score.bars``.
    chorus : int
        From 1; 0 before bar 1 of the first.
    start_s, end_s : float
    label : str
        What a page calls it: ``bar 9, second time``.
    section : str
        The name of the section that it lies in; empty where the chart names none.
    """

    place: int
    chorus: int
    start_s: float
    end_s: float
    label: str = ""
    section: str = ""


@dataclass(frozen=True, slots=True)
class FilmHead:
    """A note head as it sounds.

    Attributes
    ----------
    bar, note : int
        In ``Score.bars``, and in the notes of that bar.
    start_s, end_s : float
    is_struck : bool
        False for what is tied to the note before it.
    """

    bar: int
    note: int
    start_s: float
    end_s: float
    is_struck: bool


@dataclass(frozen=True, slots=True)
class FilmChord:
    """A chord as long as it lasts.

    Attributes
    ----------
    start_s, end_s : float
    text : ChordText
        As it stands over the staff.
    symbol : ChordSymbol
        The same, to be said in words.
    change : ToldChange or None
        What is told of how it comes; None where nothing is, as of a silent chord.
    chord : int
        Which chord of the analysis it is.
    """

    start_s: float
    end_s: float
    text: ChordText
    symbol: ChordSymbol
    change: ToldChange | None
    chord: int


@dataclass(frozen=True, slots=True)
class FilmFinding:
    """What was found in a take, as it sounds.

    Attributes
    ----------
    start_s, end_s : float
    words : str
    """

    start_s: float
    end_s: float
    words: str


@dataclass(frozen=True, kw_only=True)
class FilmTimeline:
    """A film without its pictures and its sound.

    Attributes
    ----------
    title, heading, reader, manner : str
        The piece, what is played over it, who reads it, and tempo with manner.
    task : str
        What the player does.
    score : Score
        What is seen, in written pitch.
    sound_s : float
        When the sound begins.
    clicks : tuple of FilmClick
    choruses : tuple of FilmChorus
    bars : tuple of FilmBar
    heads : tuple of FilmHead
    chords : tuple of FilmChord
        Without a gap from bar 1 to the end of the music.
    music_end_s : float
        When the last bar ends.
    findings : tuple of FilmFinding
        Of a take.
    """

    title: str
    heading: str
    reader: str
    manner: str
    task: str
    score: Score
    sound_s: float
    clicks: tuple[FilmClick, ...]
    choruses: tuple[FilmChorus, ...]
    bars: tuple[FilmBar, ...]
    heads: tuple[FilmHead, ...]
    chords: tuple[FilmChord, ...]
    music_end_s: float
    findings: tuple[FilmFinding, ...] = ()

    @cached_property
    def form_s(self) -> float:
        """When bar 1 of the first chorus begins."""
        return self.choruses[0].start_s

    @cached_property
    def end_card_s(self) -> float:
        """When the end card comes."""
        return self.music_end_s + RING_S

    @cached_property
    def length_s(self) -> float:
        """How long the film is."""
        return self.end_card_s + END_S


@dataclass(frozen=True, kw_only=True)
class FilmLine:
    """A line over its band, to be filmed: an etude, or a teacher's own.

    Attributes
    ----------
    brief : LessonBrief
        Chart, feel, style and seed of the band.
    part : Part
        How the player reads it.
    line : ExerciseLine
    title : str
    tempi : tuple of float
        Pulses a minute, one for each chorus.
    """

    brief: LessonBrief
    part: Part
    line: ExerciseLine
    title: str
    tempi: tuple[float, ...]

    @property
    def beats(self) -> Fraction:
        """Of a chorus."""
        return self.brief.chart.beats

    @property
    def is_rising(self) -> bool:
        """True where the tempo is not the same in all choruses."""
        return len(set(self.tempi)) > 1

    @cached_property
    def clocks(self) -> tuple[Clock, ...]:
        """The clock of each chorus."""
        feel = self.brief.eighths
        return tuple(piece_clock(self.brief.chart, feel, tempo) for tempo in self.tempi)

    @cached_property
    def clock(self) -> Clock:
        """When the beats of all choruses sound."""
        first = self.clocks[0]
        if not self.is_rising:
            return first
        return RisingClock(first.beats_per_minute, first.swing, self.clocks, Fraction(self.beats))

    @cached_property
    def lead_in(self) -> LeadIn:
        """The count-in."""
        return lead_in(
            self.brief.chart,
            style=self.brief.band_style,
            tempo_bpm=self.tempi[0],
            seed=self.brief.seed,
            bars=self.brief.count_in_bars,
        )

    @cached_property
    def score(self) -> Score:
        """The line as its player reads it."""
        return score_of(self.line, self.part, title=self.title, feel=self.brief.eighths)

    def performed(self, chorus: int) -> PlayedPart:
        """The line as it sounds in a chorus, from 0 on; its places are those of the first one.

        What precedes bar 1 is played in the first chorus, and the ending in the last.
        """
        line = played_line(self.line)
        if self.brief.exact_time:
            line = parted(line)
        else:
            line = line_performance(
                line,
                style=self.brief.band_style,
                clock=self.clocks[chorus],
                meter=self.brief.chart.meter,
                seed=self.brief.seed,
            )
        first = chorus == 0
        last = chorus == len(self.tempi) - 1
        return replace(
            line,
            notes=tuple(
                note
                for note in line.notes
                if (note.onset >= 0 or first) and (note.onset < self.beats or last)
            ),
        )


class PlacedHead(NamedTuple):
    """A head, and where it is written, in beats from bar 1 of the first chorus."""

    head: FilmHead
    onset: Fraction
    end: Fraction


def film_timeline(film: FilmLine) -> FilmTimeline:
    """When everything happens in the film of a line."""
    return _LineTimes(film).timeline()


class _LineTimes:
    """Places in the choruses of a line -> seconds of its film."""

    def __init__(self, film: FilmLine) -> None:
        self.film = film
        self.score = film.score
        self.count_in_s = -film.clock.seconds(-film.lead_in.beats)
        self.starts = _bar_starts(self.score)

    def timeline(self) -> FilmTimeline:
        film = self.film
        chart = film.brief.chart
        slowest, fastest = min(film.tempi), max(film.tempi)
        manner = manner_fact(chart.meter, tempo_bpm=film.tempi[0], manner=film.brief.manner)
        if slowest < fastest:
            manner = manner.replace(
                f"= {film.tempi[0]:g}", f"= {film.tempi[0]:g} to {film.tempi[-1]:g}"
            )
        return FilmTimeline(
            title=chart.title,
            heading=film.line.step.heading,
            reader=film.part.instrument.label,
            manner=manner,
            task=film.line.step.task,
            score=self.score,
            sound_s=TITLE_S,
            clicks=tuple(self._clicks()),
            choruses=tuple(self._choruses()),
            bars=tuple(self._bars()),
            heads=tuple(one_after_another(list(self._heads()))),
            chords=tuple(self._chords()),
            music_end_s=self._s(self._end),
        )

    @property
    def _end(self) -> Fraction:
        """Where the music ends."""
        ending = self.film.line.ending
        return self.film.beats * len(self.film.tempi) + (ending.bar.beats if ending else 0)

    def _s(self, beat: Fraction) -> float:
        """When a place sounds, in beats from bar 1 of the first chorus."""
        return TITLE_S + self.count_in_s + self.film.clock.seconds(beat)

    def _clicks(self) -> Iterator[FilmClick]:
        meter = self.film.brief.chart.meter
        for onset in dict.fromkeys(note.onset for note in self.film.lead_in.clicks.notes):
            yield FilmClick(self._s(onset), int(onset % meter.bar_beats // meter.pulse_beats) + 1)

    def _choruses(self) -> Iterator[FilmChorus]:
        for number, tempo_bpm in enumerate(self.film.tempi, 1):
            start, end = self.film.beats * (number - 1), self.film.beats * number
            yield FilmChorus(number, self._s(start), self._s(end), tempo_bpm)

    def _played(self) -> Iterator[tuple[int, int, Fraction]]:
        """Each bar as it is played: its place in the score, its chorus, and where it begins."""
        count = len(self.film.tempi)
        for chorus in range(count):
            for place, start in enumerate(self.starts):
                is_played = start >= 0 or chorus == 0
                is_played &= start < self.film.beats or chorus == count - 1
                if is_played:
                    yield place, chorus + 1 if start >= 0 else 0, start + chorus * self.film.beats

    def _bars(self) -> Iterator[FilmBar]:
        form = {bar.number: bar for bar in self.film.brief.chart.form}
        section = ""
        for place, chorus, start in self._played():
            bar = self.score.bars[place]
            section = bar.road.section or ("" if bar.number == 1 else section)
            end = start + sounding_beats(bar)
            label = form[bar.number].label if bar.number in form else ""
            yield FilmBar(place, chorus, self._s(start), self._s(end), label, section)

    def _heads(self) -> Iterator[PlacedHead]:
        """Every head, where it sounds."""
        sounded = [
            {note.onset: note.late_s for note in self.film.performed(chorus).notes}
            for chorus in range(len(self.film.tempi))
        ]
        tied = False
        for place, chorus, start in self._played():
            bar, shift = self.score.bars[place], max(0, chorus - 1)
            for number, (note, at) in enumerate(zip(bar.notes, onsets(bar), strict=True)):
                if note.pitch is None:
                    tied = False
                    continue
                onset, end = start + at, start + at + note.beats
                late_s = 0.0 if tied else sounded[shift].get(onset - shift * self.film.beats, 0.0)
                times_s = self._s(onset) + late_s, self._s(end) + late_s
                yield PlacedHead(FilmHead(place, number, *times_s, not tied), onset, end)
                tied = bool(note.marks & Mark.TIE)

    def _chords(self) -> Iterator[FilmChord]:
        part, ending = self.film.part, self.film.line.ending
        for chorus in range(len(self.film.tempi)):
            for number, chord in enumerate(part.analysis.chords):
                start = chord.span.start + chorus * self.film.beats
                end = start + chord.span.beats
                change = told_change(part, number) if chorus or number else None
                yield self._chord(start, end, part.symbol(number), change, number)
        if ending:
            start = self.film.beats * len(self.film.tempi)
            number = ending.note.chord
            home, change = part.symbol(number).on_its_root, told_change(part, number)
            yield self._chord(start, start + ending.bar.beats, home, change, number)

    def _chord(
        self,
        start: Fraction,
        end: Fraction,
        symbol: ChordSymbol,
        change: ToldChange | None,
        number: int,
    ) -> FilmChord:
        text = chord_text(symbol, Fraction(0))
        return FilmChord(self._s(start), self._s(end), text, symbol, change, number)


def _bar_starts(score: Score) -> tuple[Fraction, ...]:
    """Where the bars of a score begin, in beats from bar 1."""
    pickup = score.bars[0].number == 0
    at = -sounding_beats(score.bars[0]) if pickup else Fraction(0)
    starts = []
    for bar in score.bars:
        starts.append(at)
        at += sounding_beats(bar)
    return tuple(starts)


def one_after_another(heads: Sequence[PlacedHead]) -> Iterator[FilmHead]:
    """The same heads: one that no rest parts from the next sounds until that begins."""
    for placed, following in pairwise(heads):
        next_s = following.head.start_s
        is_joined = placed.end == following.onset
        yield replace(placed.head, end_s=next_s if is_joined else min(placed.head.end_s, next_s))
    yield from (placed.head for placed in heads[-1:])
