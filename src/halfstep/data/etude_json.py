"""One etude as data, and the bars that are kept of it when it is read back.

Fields that ``lesson.json`` has too mean the same here; see ``docs/lesson-json.md``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.data.lesson_json import etude_data, played_chart_data
from halfstep.errors import BriefError, ReadError
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis
from halfstep.lesson.brief import LessonBrief
from halfstep.part.transposed_part import Part
from halfstep.pitch import Pitch, parse_pitch
from halfstep.progression.symbol import ChordSymbol, parse_symbol

ETUDE_FORM = JsonForm("halfstep-etude", "an etude")
_TOLD = 3
"""Bars with other chords that are named."""
_LONGEST_BEATS = 10_000_000


def etude_file_data(etude: Etude, part: Part, brief: LessonBrief) -> dict[str, Any]:
    """An etude with what it was asked for."""
    asked = etude.brief
    return {
        **ETUDE_FORM.head,
        "chart_title": brief.chart.title,
        "instrument": part.instrument.key,
        "written_above_concert": {
            "letters": part.interval.letters,
            "semitones": part.interval.semitones,
        },
        "written_key": part.key.ascii,
        "level": str(asked.level),
        "seed": asked.seed,
        "tempo_bpm": asked.tempo_bpm,
        "feel": str(brief.eighths),
        "limits_midi": [asked.concert_low, asked.concert_high],
        "known_midi": None if asked.known is None else sorted(asked.known),
        "chart": played_chart_data(brief.chart),
        **etude_data(etude, part),
    }


def kept_notes(
    source: str | Path, bars: frozenset[int], part: Part
) -> tuple[tuple[EtudeNote, ...], tuple[str, ...]]:
    """The notes that an earlier file has in these bars, and what should be said of them.

    Raises
    ------
    BriefError
        When the file cannot be read, is of another kind, or lacks notes in a bar.
    """
    name = str(source) if isinstance(source, Path) else "as data"
    try:
        data = read_document(source, ETUDE_FORM)
    except ReadError as error:
        raise BriefError(f"`kept_from` {name}: {error.message}") from None
    player, key = data.get("instrument"), part.instrument.key
    if player != key:
        raise BriefError(
            f"`kept_from` {name}: it is for {player}; keep its bars with `instrument` {player}"
        )
    analysis = part.analysis
    try:
        notes = [_note(each, analysis) for each in data["notes"]]
        before = {each["number"]: _bar_before(each) for each in data["chart"]["bars"]}
    except (KeyError, TypeError, ValueError, ZeroDivisionError, ReadError):
        raise BriefError(f"`kept_from` {name}: its notes are not as halfstep writes them") from None
    _demand_places(bars, before, analysis, name)
    kept = tuple(_in_bars(notes, bars, analysis, name))
    return kept, tuple(_over_others(bars, before, part, name))


@dataclass(frozen=True, slots=True)
class _BarBefore:
    """A bar of the chart that an etude was written over, in concert."""

    start: Fraction
    beats: Fraction
    chords: tuple[tuple[Fraction, ChordSymbol], ...]


def _bar_before(data: dict[str, Any]) -> _BarBefore:
    chords = ((_beats(each["at"]), parse_symbol(each["symbol"])) for each in data["chords"])
    return _BarBefore(_beats(data["start"]), _beats(data["beats"]), tuple(chords))


def _demand_places(
    bars: frozenset[int], before: dict[int, _BarBefore], analysis: Analysis, name: str
) -> None:
    """Raise BriefError where a kept bar does not lie in both charts at the same beats."""
    for bar, start in analysis.chart.placed():
        if bar.number not in bars:
            continue
        old = before.get(bar.number)
        if old is None:
            raise BriefError(f"`kept_from` {name}: its chart has no bar {bar.number}")
        if old.beats != bar.beats:
            raise BriefError(
                f"`kept_from` {name}: bar {bar.number} has {old.beats} quarter notes there and "
                f"{bar.beats} here"
            )
        if old.start != start:
            raise BriefError(
                f"`kept_from` {name}: bar {bar.number} begins after {old.start} quarter notes "
                f"there and after {start} here"
            )


def _over_others(
    bars: frozenset[int], before: dict[int, _BarBefore], part: Part, name: str
) -> Iterator[str]:
    """Which of the kept bars had other chords, in one line."""
    now = {
        bar.number: tuple((each.at, each.symbol) for each in bar.chords)
        for bar, _ in part.analysis.chart.placed()
    }
    here = _sounding(now)
    there = _sounding({number: bar.chords for number, bar in before.items()})
    other = [number for number in sorted(bars) if here[number] != there[number]]
    told = [
        f"bar {n} over {_names(there[n], part)}, here {_names(here[n], part)}"
        for n in other[:_TOLD]
    ]
    if told:
        more = f", and {len(other) - _TOLD} more" if len(other) > _TOLD else ""
        yield f"`kept_from` {name} was written over other chords: {'; '.join(told)}{more}"


def _sounding(
    bars: dict[int, tuple[tuple[Fraction, ChordSymbol], ...]],
) -> dict[int, tuple[tuple[Fraction, ChordSymbol], ...]]:
    """The chords of each bar, with the one that holds on into it."""
    found, last = {}, None
    for number, chords in bars.items():
        if last and not (chords and chords[0][0] == 0):
            chords = ((Fraction(0), last), *chords)
        found[number] = chords
        last = chords[-1][1] if chords else last
    return found


def _names(chords: tuple[tuple[Fraction, ChordSymbol], ...], part: Part) -> str:
    """The chords of a bar as the player reads them."""
    return " ".join(str(symbol.moved(part.interval)) for _, symbol in chords) or "no chord"


def _note(data: dict[str, Any], analysis: Analysis) -> EtudeNote:
    onset, beats = _beats(data["start"]), _beats(data["beats"])
    if beats <= 0 or abs(onset) + beats > _LONGEST_BEATS:
        raise ValueError("no length")
    starts = [here.span.start for here in analysis.chords]
    chord = max(0, bisect_right(starts, onset) - 1)
    pitch = _pitch(data["concert"])
    approach = Approach(data["approach"] or "")
    return EtudeNote(onset, beats, pitch, chord, breath=data["breath"] is True, approach=approach)


def _beats(text: Any) -> Fraction:
    if not isinstance(text, str) or len(text) > 24 or "e" in text.lower():
        raise ValueError("no fraction")
    return Fraction(text)


def _pitch(text: Any) -> Pitch | None:
    if text is None:
        return None
    pitch = parse_pitch(text if isinstance(text, str) else "")
    if not 0 <= pitch.midi <= 127:
        raise ValueError("no MIDI note")
    return pitch


def _in_bars(
    notes: list[EtudeNote], bars: frozenset[int], analysis: Analysis, name: str
) -> Iterator[EtudeNote]:
    """The notes of those bars, whole ones where they are tied over a bar line."""
    kept: list[EtudeNote] = []
    for bar, start in analysis.chart.placed():
        if bar.number in bars:
            end = start + bar.beats
            inside = [note for note in notes if note.onset < end and note.end > start]
            parts = (min(note.end, end) - max(note.onset, start) for note in inside)
            if sum(parts, Fraction(0)) != bar.beats:
                raise BriefError(f"`kept_from` {name}: its notes do not fill bar {bar.number}")
            kept += [note for note in inside if kept[-1:] != [note]]
    yield from kept
