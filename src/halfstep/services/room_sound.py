"""What does a piece sound like in the room? Each part by itself, some bars at a time.

What is asked for is made then and not before: the count-in, the first bars, those after them while
these sound. The choruses of a block differ; after them the first one comes again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from threading import RLock
from typing import TYPE_CHECKING, NamedTuple

from halfstep.data.documents import json_text
from halfstep.errors import BriefError, NoSuchThing
from halfstep.lesson.make import Lesson, PlayerLesson, lesson_clock, lesson_with
from halfstep.level import Level
from halfstep.meter import Clock
from halfstep.progression.bars_data import played_chart_data
from halfstep.progression.chart import Chart
from halfstep.services.room_piece import RoomPiece

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from halfstep.played import PlayedNote, PlayedPart
    from halfstep.render.stretch import LevelledPart

    Samples = npt.NDArray[np.int16]

BAND = ("drums", "bass", "chords")
LINE, CLICK, DRONE = "line", "click", "drone"
PARTS = (*BAND, LINE, CLICK, DRONE)
COUNT_IN, ENDING = "count-in", "ending"
"""What stands in the place of a chorus before the first and behind the last."""
FORMS = {"m4a": "audio/mp4", "ogg": "audio/ogg"}
"""How a sound is sent, and what that is to a browser: AAC, and Vorbis for one that knows no AAC."""
_BITS = {"drums": 56_000, "chords": 52_000, LINE: 56_000, CLICK: 24_000}
_OTHER_BITS = 40_000
_MONO = {"bass", CLICK, DRONE}
"""Parts that stand in the middle."""
_ALIKE = {LINE, CLICK, DRONE}
"""Parts that play the same in every chorus."""
_BLOCK_BARS, _BLOCK = 64, 4
"""Choruses that differ: four, fewer of a long form, so that they are written soon."""
LEAST_S, LEAST_FIRST_S = 10.0, 3.5
"""How long a stretch lasts at least; the first one is short, so that it is there soon."""


class Stretch(NamedTuple):
    """Bars that are made together: their places in the form, from 1, and their beats."""

    first: int
    last: int
    start: Fraction
    end: Fraction


def stretches(chart: Chart, clock: Clock) -> tuple[Stretch, ...]:
    """A chorus in stretches of whole bars."""
    cut: list[Stretch] = []
    first, start, at = 1, Fraction(0), Fraction(0)
    for place, bar in enumerate(chart.form, start=1):
        at += bar.beats
        least_s = LEAST_S if cut else LEAST_FIRST_S
        if clock.seconds(at) - clock.seconds(start) >= least_s or place == len(chart.form):
            cut.append(Stretch(first, place, start, at))
            first, start = place + 1, at
    return tuple(cut)


class StretchWish(NamedTuple):
    """Some bars of a part.

    Attributes
    ----------
    part : str
        One of `PARTS`.
    chorus : int or str
        From 1; or `COUNT_IN`, or `ENDING`.
    first, last : int
        Bars by their places in the form, from 1; nothing to a count-in or an ending.
    form : str
        How it is sent, one of `FORMS`.
    """

    part: str
    chorus: int | str
    first: int = 1
    last: int = 1
    form: str = "m4a"


class StretchFile(NamedTuple):
    """A sound to be sent.

    Attributes
    ----------
    data : bytes
        Empty where the part is silent.
    frames : int
        Of it as it was made, in whole packets.
    """

    data: bytes
    frames: int


@dataclass(frozen=True)
class RoomSound:
    """A piece, ready to sound.

    Attributes
    ----------
    piece : RoomPiece
    """

    piece: RoomPiece
    _writing: RLock = field(default_factory=RLock, init=False, repr=False, compare=False)

    @cached_property
    def clock(self) -> Clock:
        """When its beats sound."""
        return lesson_clock(self.piece.reply.brief)

    @property
    def chart(self) -> Chart:
        """The bars of a chorus."""
        return self.piece.etude.analysis.chart

    @property
    def beats(self) -> Fraction:
        """Of a chorus."""
        return self.chart.beats

    @property
    def block(self) -> int:
        """How many choruses differ."""
        return max(1, min(_BLOCK, _BLOCK_BARS // len(self.chart.form)))

    @cached_property
    def count_in_beats(self) -> Fraction:
        """Of what precedes bar 1."""
        from halfstep.backing import count_in_bars

        meter, pickup = self.chart.meter, self.chart.pickup_beats
        bars = count_in_bars(meter, tempo_bpm=self.piece.tempo_bpm, pickup_beats=pickup)
        return bars * meter.bar_beats

    @property
    def ending_beats(self) -> Fraction:
        """Of what follows the last chorus; 0 where nothing does."""
        ending = self.piece.etude.ending
        return ending.bar.beats if ending else Fraction(0)

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """A chorus as it is made."""
        return stretches(self.chart, self.clock)

    @property
    def marks(self) -> dict[str, str]:
        """What band and line are known by."""
        return {"band": self._band_mark, LINE: self._line_mark}

    def is_first(self, wish: StretchWish) -> bool:
        """True for what somebody waits for who has pressed Play."""
        last = self.stretches[0].last
        return wish.chorus == COUNT_IN or (wish.chorus == 1 and wish.last - wish.first < last)

    def mark(self, wish: StretchWish) -> str:
        """What a sound is known by: alike for all who hear the same."""
        whose = self._line_mark if wish.part == LINE else self._band_mark
        chorus = wish.chorus if isinstance(wish.chorus, str) else self._in_block(wish.chorus)
        return f"{whose} {wish.part} {chorus} {wish.first} {wish.last} {wish.form}"

    def _in_block(self, chorus: int) -> int:
        return (chorus - 1) % self.block

    @cached_property
    def _band_mark(self) -> str:
        brief = self.piece.reply.brief
        facts = {
            "chart": played_chart_data(brief.chart),
            "style": brief.band_style.name,
            "feel": str(brief.eighths),
            "tempo_bpm": brief.pulses_a_minute,
            "seed": brief.seed,
            "level": str(self.piece.etude.brief.level),
            "ends": bool(self.piece.etude.ending),
        }
        return hashlib.sha256(json_text(facts).encode()).hexdigest()[:24]

    @cached_property
    def _line_mark(self) -> str:
        notes = [f"{note.onset} {note.beats} {note.pitch}" for note in self.piece.etude.every_note]
        program = self.piece.reply.part.instrument.program
        text = f"{self._band_mark} {program} {notes}"
        return hashlib.sha256(text.encode()).hexdigest()[:24]

    def file(self, wish: StretchWish) -> StretchFile:
        """A sound; its first beat is frame `halfstep.render.stretch.LEAD`.

        Raises
        ------
        NoSuchThing
            When there is no such part or form.
        BriefError
            When the form has no such bars.
        """
        from halfstep.render.sound_file import light_m4a, light_ogg

        if wish.form not in FORMS:
            raise NoSuchThing(f"a sound is sent as {' or '.join(FORMS)}")
        samples = self.samples(wish)
        if samples is None:
            return StretchFile(b"", 0)
        channels = samples[:, :1] if wish.part in _MONO else samples
        if wish.form == "ogg":
            return StretchFile(light_ogg(channels), len(samples))
        bits = _BITS.get(wish.part, _OTHER_BITS)
        return StretchFile(light_m4a(channels, bits), len(samples))

    def samples(self, wish: StretchWish) -> Samples | None:
        """A sound as it is made, shape (frames, 2); None where the part is silent.

        Raises
        ------
        NoSuchThing, BriefError
            As in `file`.
        """
        from halfstep.render.stretch import stretch_sound

        if wish.part not in PARTS:
            raise NoSuchThing(f"there is no part {wish.part}; there are {', '.join(PARTS)}")
        start, end = self._span(wish)
        return stretch_sound(self._played(wish, start, end), start, end)

    def _span(self, wish: StretchWish) -> tuple[Fraction, Fraction]:
        """A stretch in beats from the first of the block."""
        if wish.chorus == COUNT_IN:
            return -self.count_in_beats, Fraction(0)
        if wish.chorus == ENDING:
            return self.beats, self.beats + self.ending_beats
        assert isinstance(wish.chorus, int)
        form = self.chart.form
        if not 1 <= wish.first <= wish.last <= len(form):
            raise BriefError(f"`bars`: the form has bars 1 to {len(form)}")
        shift = 0 if wish.part in _ALIKE else self._in_block(wish.chorus) * self.beats
        before, bars = form[: wish.first - 1], form[wish.first - 1 : wish.last]
        start = shift + sum((bar.beats for bar in before), Fraction(0))
        return start, start + sum((bar.beats for bar in bars), Fraction(0))

    # Who plays

    @property
    def lesson(self) -> Lesson:
        """The band with its line, its count-in and its ending; written once, whoever asks."""
        with self._writing:
            return self._lesson

    @cached_property
    def _lesson(self) -> Lesson:
        reply = self.piece.reply
        brief = replace(reply.brief, exact_time=reply.etude.brief.level is Level.BEGINNER)
        player = PlayerLesson(brief.players[0], reply.part, (reply.etude,))
        return lesson_with(brief, reply.etude.analysis, [player], most=self.block)

    def _played(self, wish: StretchWish, start: Fraction, end: Fraction) -> LevelledPart:
        """A part with the notes that a stretch may have."""
        from halfstep.render.stretch import held_in

        with self._writing:
            levelled = self._parts(wish.part)
        if wish.part == DRONE:
            return replace(levelled, part=held_in(levelled.part, start, end))
        if wish.part == CLICK and wish.chorus == COUNT_IN:
            return replace(levelled, part=replace(self.lesson.lead_in.clicks, name=CLICK))
        if wish.part in BAND and isinstance(wish.chorus, str):
            notes = self._endings.get(wish.part, ()) if wish.chorus == ENDING else ()
            return replace(levelled, part=replace(levelled.part, notes=notes))
        return levelled

    @cached_property
    def _endings(self) -> dict[str, tuple[PlayedNote, ...]]:
        return {part.name: part.notes for part in self.lesson.performed_ending}

    @cached_property
    def _parts(self) -> Callable[[str], LevelledPart]:
        """Each part at its level, made once."""
        return lru_cache(len(PARTS))(self._levelled)

    def _levelled(self, name: str) -> LevelledPart:
        from halfstep.render.known_banks import find_bank
        from halfstep.render.stretch import levelled

        bank = find_bank(self.piece.reply.bank)
        return levelled(self._performed(name), self.clock, self.beats, bank)

    def _performed(self, name: str) -> PlayedPart:
        from halfstep.backing import click_part, drone_part

        if name == LINE:
            return self.lesson.performed_line(self.piece.etude)
        if name == CLICK:
            return click_part(self.chart, tempo_bpm=self.piece.tempo_bpm)
        if name == DRONE:
            return drone_part(self.chart)
        return next(part for part in self._band if part.name == name)

    @cached_property
    def _band(self) -> tuple[PlayedPart, ...]:
        return self.lesson.performed_band
