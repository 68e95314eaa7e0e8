"""One etude as data: what ``halfstep etude --out NAME.json`` writes and ``--from`` reads.

Fields that ``lesson.json`` has too mean the same here; see ``docs/lesson-json.md``.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import halfstep
from halfstep.errors import BriefError, ReadError
from halfstep.etude.parts import Approach, Etude, EtudeNote
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Instrument
from halfstep.lesson.brief import LessonBrief
from halfstep.lesson.data import etude_data, played_chart_data
from halfstep.lesson.part import Part
from halfstep.pitch import Pitch, parse_pitch

FORMAT = "halfstep-etude"
FORMAT_VERSION = 1
MAX_FILE_BYTES = 50_000_000
_LONGEST_BEATS = 10_000_000


def etude_file_data(etude: Etude, part: Part, brief: LessonBrief) -> dict[str, Any]:
    """An etude with what it was asked for."""
    asked = etude.brief
    return {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "program": f"halfstep {halfstep.__version__}",
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
    path: str, bars: frozenset[int], analysis: Analysis, instrument: Instrument
) -> tuple[EtudeNote, ...]:
    """The notes that an earlier file has in these bars, to be kept.

    Raises
    ------
    BriefError
        When the file cannot be read, is of another kind, or lacks notes in a bar.
    """
    data = _file(path)
    own = data.get("instrument")
    if own != instrument.key:
        raise BriefError(f"--from {path}: it is for {own}; keep its bars with --for {own}")
    try:
        notes = [_note(each, analysis) for each in data["notes"]]
    except (KeyError, TypeError, ValueError, ZeroDivisionError, ReadError):
        raise BriefError(f"--from {path}: its notes are not as halfstep writes them") from None
    return tuple(_in_bars(notes, bars, analysis, path))


def _file(path: str) -> dict[str, Any]:
    try:
        if Path(path).stat().st_size > MAX_FILE_BYTES:
            raise BriefError(f"--from {path}: the file is too large for an etude")
        data = json.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        raise BriefError(f"--from {path}: cannot read it: {error.strerror or error}") from None
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise BriefError(f"--from {path}: give a .json file that halfstep etude wrote")
    if data.get("version") != FORMAT_VERSION:
        raise BriefError(f"--from {path}: it is of a version that this program cannot read")
    return data


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
    notes: list[EtudeNote], bars: frozenset[int], analysis: Analysis, path: str
) -> Iterator[EtudeNote]:
    """The notes of those bars; each bar must be full."""
    for bar, start in analysis.chart.placed():
        if bar.number in bars:
            inside = [note for note in notes if start <= note.onset < start + bar.beats]
            if sum((note.beats for note in inside), Fraction(0)) != bar.beats:
                raise BriefError(f"--from {path}: its notes do not fill bar {bar.number}")
            yield from inside
