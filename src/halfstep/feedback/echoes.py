"""How much of what a player heard is played back? Each answer against the call before it.

A written line leaves bars to the player (`halfstep.feedback.open_bars`); each is
held against the bar that it answers, note by note in order: the same pitch, octaves aside, at
about the same place. What is played beyond the notes that were heard counts against it, so that
running through all notes echoes nothing.

Source: Needleman and Wunsch (1970, from memory) for the order; bounds: common practice, no
source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from halfstep.etude.played_back import answers
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.open_bars import ECHO_BEATS, open_bars
from halfstep.feedback.take_note import TakeNote

EARLY_BEATS = 0.25
"""How early the first note of an answered bar may be, in quarter notes."""


class EchoNote(NamedTuple):
    """A note by its place in the bar, in quarter notes, and its MIDI number."""

    place: float
    midi: int


class EchoShare(NamedTuple):
    """Notes of answers.

    Attributes
    ----------
    right : int
        Played back right.
    asked : int
        That there were to play back, or that were played, where those are more.
    certainty : float
        How surely the played ones were heard, 0 to 1.
    """

    right: int
    asked: int
    certainty: float


def echo_share(take: JudgedTake) -> EchoShare | None:
    """How much was played back; None for a take without a line that leaves bars for it."""
    pairs = list(_answered_bars(take)) if take.line else []
    if not pairs:
        return None
    right = sum(echoed_notes(call, _places(reply)) for call, reply in pairs)
    asked = sum(max(len(call), len(reply)) for call, reply in pairs)
    heard = [note.certainty for _, reply in pairs for _, note in reply]
    return EchoShare(right, asked, round(sum(heard) / len(heard), 3) if heard else 1.0)


def echoed_notes(call: Sequence[EchoNote], reply: Sequence[EchoNote]) -> int:
    """How many notes of a call are played back in order.

    >>> call = [EchoNote(0, 60), EchoNote(1, 62), EchoNote(2, 64)]
    >>> echoed_notes(call, [EchoNote(0.1, 72), EchoNote(1, 61), EchoNote(2.2, 64)])
    2
    """
    row = [0] * (len(reply) + 1)
    for asked in call:
        above = row
        row = [0]
        for place, note in enumerate(reply):
            row.append(max(row[-1], above[place + 1], above[place] + _is_same(asked, note)))
    return row[-1]


def _is_same(asked: EchoNote, note: EchoNote) -> bool:
    near = abs(asked.place - note.place) <= ECHO_BEATS
    return near and (asked.midi - note.midi) % 12 == 0


Reply = list[tuple[float, TakeNote]]
"""Played notes with their places in the bar, which they may begin a little before."""


def _answered_bars(take: JudgedTake) -> Iterator[tuple[list[EchoNote], Reply]]:
    """Each bar that is played back in a pass that is heard: its notes, and what was played."""
    form = take.form
    bars = range(1, len(form.bar_starts) + 1)
    played = set(bars) - open_bars(take.line, form).numbers
    backs = answers(played, len(form.bar_starts))
    passes = int(take.notes[-1].onset // form.beats) + 1 if take.notes else 0
    for chorus in range(passes if len(played) < len(bars) else 0):
        for call, back in backs.items():
            start = chorus * form.beats + form.bar_starts[back - 1]
            if start < take.end:
                yield _call(take, call), _reply(take, start, _bar_beats(take, back))


def _bar_beats(take: JudgedTake, bar: int) -> float:
    ends = (*take.form.bar_starts[1:], take.form.beats)
    return ends[bar - 1] - take.form.bar_starts[bar - 1]


def _call(take: JudgedTake, bar: int) -> list[EchoNote]:
    start = take.form.bar_starts[bar - 1]
    end = start + _bar_beats(take, bar)
    return [
        EchoNote(float(note.onset) - start, note.pitch.midi)
        for note in take.line
        if note.pitch and start <= note.onset < end
    ]


def _reply(take: JudgedTake, start: float, beats: float) -> Reply:
    """The notes of a bar, by the places that a player counts on."""
    own = take.alignment.own if take.alignment else frozenset()
    return [
        (float(note.place) - start, note)
        for place, note in enumerate(take.notes)
        if place in own and start - EARLY_BEATS <= note.place < start + beats - EARLY_BEATS
    ]


def _places(reply: Reply) -> list[EchoNote]:
    return [EchoNote(place, note.midi) for place, note in reply]
