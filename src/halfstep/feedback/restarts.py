"""Is each chord begun again from its root, as a habit?

Conventions
-----------
- A chord is *begun again* where its root is played on its first beat, or half a beat before,
  and the line breaks off there: it rests before, or leaps by more than a third.
- It is a habit where `LEAST` of `IN_A_ROW` changes in a row are begun so, and half of all
  changes that are entered on their first beat; told once, at the first of the longest run.
- What a written line begins so is what the player was asked for, and is left out.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.laid_take import LaidTake
from halfstep.harmony.line_over_chords import LineOverChords

LEAST, IN_A_ROW = 3, 4
_SHARE = 0.5
_THIRD = 4
"""Semitones of the largest step that goes on with a line."""
_NEAR = 1e-6


@dataclass(frozen=True, slots=True)
class EnteredChord:
    """How a line enters a chord.

    Attributes
    ----------
    start, end : float
        Of the chord, in quarter notes from bar 1.
    note : int
        The note on the chord's first beat.
    begins_again : bool
        From the root, after a break in the line.
    """

    start: float
    end: float
    note: int
    begins_again: bool


def restart_findings(taken: LaidTake) -> Iterator[Finding]:
    """The habit of beginning each chord again, told once."""
    take = taken.take
    written = _written_restarts(taken)
    entries = [e for e in chord_entries(taken.laid) if e.start % take.form.beats not in written]
    run = habit(entries)
    if not run:
        return
    first, last = run[0], run[-1]
    begin, end = take.place_at(first.start), take.place_at(last.start)
    surely = [taken.notes[entry.note].certainty for entry in run if entry.begins_again]
    yield Finding(
        kind=FindingKind.RESTART,
        fault=True,
        place=begin,
        time_s=take.time_s(first.start),
        certainty=round(_certainty(run) * sum(surely) / len(surely), 3),
        chord=take.part.symbol(take.chord_at(first.start)).ascii,
        bars=take.bars_touched(begin, take.place_at(last.end - 0.01)),
        until=end,
    )


def chord_entries(laid: LineOverChords) -> Iterator[EnteredChord]:
    """Each chord that a line enters on its first beat, or half a beat before, from another root."""
    stretches = laid.stretches
    for place in range(1, len(stretches)):
        old, new = stretches[place - 1], stretches[place]
        note = laid.firsts[place]
        if old.row is None or new.row is None or old.symbol.root == new.symbol.root:
            continue
        if note and note < laid.firsts[place + 1] and laid.places.onsets[note] <= new.start + _NEAR:
            is_root = laid.line[note].midi % 12 == new.symbol.root.pitch_class
            begins = is_root and _breaks_off(laid, note)
            yield EnteredChord(new.start, laid.ends[place], note, begins)


def _breaks_off(laid: LineOverChords, note: int) -> bool:
    """True where the line rests before a note, or leaps to it."""
    before, after = laid.line[note - 1], laid.line[note]
    onsets = laid.places.onsets
    rest = onsets[note] - onsets[note - 1] - float(before.beats)
    rests = rest >= laid.unit_at(note) / 2 - _NEAR
    return rests or abs(after.midi - before.midi) > _THIRD


def habit(entries: Sequence[EnteredChord]) -> list[EnteredChord]:
    """The longest run of changes of which most are begun again; empty where it is no habit."""
    flags = [entry.begins_again for entry in entries]
    if len(flags) < IN_A_ROW or sum(flags) < _SHARE * len(flags):
        return []
    windows = range(len(flags) - IN_A_ROW + 1)
    dense = [sum(flags[place : place + IN_A_ROW]) >= LEAST for place in windows]
    run = max(_runs(dense), key=lambda ends: ends[1] - ends[0], default=None)
    if run is None:
        return []
    inside = list(entries[run[0] : run[1] + IN_A_ROW - 1])
    begun = [place for place, entry in enumerate(inside) if entry.begins_again]
    return inside[begun[0] : begun[-1] + 1]


def _runs(flags: Sequence[bool]) -> Iterator[tuple[int, int]]:
    """Where runs of true begin, and where they have ended."""
    begin = 0
    for place, flag in enumerate([*flags, False]):
        if not flag:
            if place > begin:
                yield begin, place
            begin = place + 1


def _certainty(run: Sequence[EnteredChord]) -> float:
    """How sure a habit is: three may be chance, eight are not."""
    begun = sum(entry.begins_again for entry in run)
    chance = 0.5 if begun == len(run) else 0.6
    return float(1 - chance ** (begun - 0.5))


def _written_restarts(taken: LaidTake) -> frozenset[float]:
    """Where in the form the written line itself begins a chord again, as it comes round."""
    entries = chord_entries(taken.written) if taken.written else iter(())
    beats = taken.take.form.beats
    return frozenset(entry.start % beats for entry in entries if entry.begins_again)
