"""Which bars of a stored etude can stand in a new one, and what should be said of them?"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path

from halfstep.data.etude_json import StoredBar, StoredEtude, read_etude
from halfstep.errors import BriefError, ReadError
from halfstep.etude.etude_notes import EtudeNote
from halfstep.harmony.analysis import Analysis
from halfstep.part.transposed_part import Part
from halfstep.progression.symbol import ChordSymbol

_MOST_NAMED = 3
"""Bars with other chords that are named."""

BarChords = tuple[tuple[Fraction, ChordSymbol], ...]
"""The chords of a bar with their places in it."""


def kept_notes(
    source: str | Path, bars: frozenset[int], part: Part
) -> tuple[tuple[EtudeNote, ...], tuple[str, ...]]:
    """The notes that a stored etude has in these bars, and what should be said of them.

    Parameters
    ----------
    source : str or Path
        The etude as JSON, or a file of it.
    bars : frozenset of int
        Numbers of the form.
    part : Part
        The new one, for the same player.

    Raises
    ------
    BriefError
        When the file cannot be read, is of another kind, or lacks notes in a bar.
    """
    name = str(source) if isinstance(source, Path) else "as data"
    try:
        stored = read_etude(source)
        _demand_player(stored, part)
        _demand_places(bars, stored.bars, part.analysis)
        notes = tuple(_notes_in(stored, bars, part.analysis))
    except (ReadError, BriefError) as error:
        raise BriefError(f"`kept_from` {name}: {error.marked_text}") from None
    return notes, tuple(_over_other_chords(bars, stored.bars, part, name))


def _demand_player(stored: StoredEtude, part: Part) -> None:
    if stored.instrument != part.instrument.key:
        player = stored.instrument
        raise BriefError(f"it is for {player}; keep its bars with `instrument` {player}")


def _demand_places(
    bars: frozenset[int], before: Mapping[int, StoredBar], analysis: Analysis
) -> None:
    """Raise BriefError where a kept bar does not lie in both charts at the same beats."""
    for bar, start in analysis.chart.placed():
        if bar.number not in bars:
            continue
        old = before.get(bar.number)
        if old is None:
            raise BriefError(f"its chart has no bar {bar.number}")
        if old.beats != bar.beats:
            raise BriefError(
                f"bar {bar.number} has {old.beats} quarter notes there and {bar.beats} here"
            )
        if old.start != start:
            raise BriefError(
                f"bar {bar.number} begins after {old.start} quarter notes there and after "
                f"{start} here"
            )


def _notes_in(stored: StoredEtude, bars: frozenset[int], analysis: Analysis) -> Iterator[EtudeNote]:
    """The notes of those bars, whole ones where they are tied over a bar line."""
    last: EtudeNote | None = None
    for bar, start in analysis.chart.placed():
        if bar.number not in bars:
            continue
        end = start + bar.beats
        inside = [note for note in stored.notes if note.onset < end and note.end > start]
        pieces = (min(note.end, end) - max(note.onset, start) for note in inside)
        if sum(pieces, Fraction(0)) != bar.beats:
            raise BriefError(f"its notes do not fill bar {bar.number}")
        for note in inside:
            if note is not last:
                yield _over_chord(note, analysis)
            last = note


def _over_chord(note: EtudeNote, analysis: Analysis) -> EtudeNote:
    """The note with the chord of the new chart that it begins under."""
    starts = [chord.span.start for chord in analysis.chords]
    return note._replace(chord=max(0, bisect_right(starts, note.onset) - 1))


def _over_other_chords(
    bars: frozenset[int], before: Mapping[int, StoredBar], part: Part, name: str
) -> Iterator[str]:
    """Which of the kept bars had other chords, in one line."""
    new = _sounding(
        {
            bar.number: tuple((chord.at, chord.symbol) for chord in bar.chords)
            for bar, _ in part.analysis.chart.placed()
        }
    )
    old = _sounding({number: bar.chords for number, bar in before.items()})
    changed = [number for number in sorted(bars) if new[number] != old[number]]
    named = [
        f"bar {number} over {_names(old[number], part)}, here {_names(new[number], part)}"
        for number in changed[:_MOST_NAMED]
    ]
    if named:
        more = f", and {len(changed) - _MOST_NAMED} more" if len(changed) > _MOST_NAMED else ""
        yield f"`kept_from` {name} was written over other chords: {'; '.join(named)}{more}"


def _sounding(bars: Mapping[int, BarChords]) -> dict[int, BarChords]:
    """The chords of each bar, with the one that holds on into it."""
    sounding: dict[int, BarChords] = {}
    last: ChordSymbol | None = None
    for number, chords in bars.items():
        if last and not (chords and chords[0][0] == 0):
            chords = ((Fraction(0), last), *chords)
        sounding[number] = chords
        last = chords[-1][1] if chords else last
    return sounding


def _names(chords: BarChords, part: Part) -> str:
    """The chords of a bar as the player reads them."""
    return " ".join(str(part.symbol_elsewhere(symbol)) for _, symbol in chords) or "no chord"
