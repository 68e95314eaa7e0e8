"""One etude as data, and what is read back of it.

Fields that ``lesson.json`` has too mean the same here; see ``docs/json.md``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.data.lesson_json import etude_data
from halfstep.data.line_json import ghosts_of, read_beats, read_line, read_notes
from halfstep.errors import HalfstepError, ReadError
from halfstep.etude.articulation import Articulation
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.step import Step
from halfstep.etude.steps.stored_numbers import step_stored_as
from halfstep.etude.teachers_step import step_or_line
from halfstep.etude.written_etude import Etude
from halfstep.lesson.brief import LessonBrief
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.part.transposed_part import Part
from halfstep.progression.bars_data import played_chart_data, read_played_chart
from halfstep.progression.chart import Chart
from halfstep.progression.excerpt import WholeForm
from halfstep.progression.symbol import ChordSymbol, parse_symbol

ETUDE_FORM = JsonForm("halfstep-etude", "an etude", version=2)


def etude_file_data(
    etude: Etude, part: Part, brief: LessonBrief, whole: WholeForm | None = None
) -> dict[str, Any]:
    """An etude with what it was asked for, and what its bars are of where they are but a few."""
    brief_of_line = etude.brief
    return {
        **ETUDE_FORM.head,
        "chart_title": brief.chart.title,
        "instrument": part.instrument.key,
        "written_above_concert": {
            "letters": part.interval.letters,
            "semitones": part.interval.semitones,
        },
        "written_key": part.key.ascii,
        "level": str(brief_of_line.level),
        "seed": brief_of_line.seed,
        "tempo_bpm": brief_of_line.tempo_bpm,
        "feel": str(brief.eighths),
        "limits_midi": [brief_of_line.concert_low, brief_of_line.concert_high],
        "known_midi": None if brief_of_line.known is None else sorted(brief_of_line.known),
        "chart": played_chart_data(brief.chart),
        **({"whole": _whole_data(whole)} if whole else {}),
        **etude_data(etude, part),
    }


@dataclass(frozen=True, slots=True)
class StoredBar:
    """A bar of the chart that an etude was written over.

    Attributes
    ----------
    start, beats : Fraction
        From the start of bar 1, and the length, in quarter notes.
    chords : tuple of (Fraction, ChordSymbol)
        Places in the bar, and concert symbols.
    """

    start: Fraction
    beats: Fraction
    chords: tuple[tuple[Fraction, ChordSymbol], ...]


@dataclass(frozen=True, slots=True)
class StoredEtude:
    """An etude that was stored.

    Attributes
    ----------
    step : Step
    instrument : str
    notes : tuple of EtudeNote
        In concert pitch; the chords they belong to are those of their own chart.
    bars : dict
        The bars of that chart, by their numbers in the form.
    line : tuple of EtudeNote
        The notes, and behind them those of its ending.
    chart : Chart
        What it was written over.
    level : Level
    tempo_bpm : float
        Pulses a minute.
    feel : Feel
    seed : int
    limits : tuple of (int, int)
        The concert MIDI numbers that the line was to stay between.
    known : frozenset of int or None
        Those that its player knew; None for all.
    articulation : Articulation
        How it is tongued; what was stored without that is plain.
    ghosts : frozenset of Fraction
        Where the notes begin that are barely sounded.
    whole : WholeForm or None
        What the chart has a few bars of; None where it is all that there is.
    """

    step: Step
    instrument: str
    notes: tuple[EtudeNote, ...]
    bars: dict[int, StoredBar]
    line: tuple[EtudeNote, ...]
    chart: Chart
    level: Level
    tempo_bpm: float
    feel: Feel
    seed: int
    limits: tuple[int, int]
    known: frozenset[int] | None
    articulation: Articulation
    ghosts: frozenset[Fraction]
    whole: WholeForm | None


def read_etude(source: str | Path) -> StoredEtude:
    """The etude in a text or a file; the first version called steps by numbers.

    Raises
    ------
    ReadError
        When it is no such document, or not as it was written.
    """
    data = read_document(source, ETUDE_FORM)
    try:
        return StoredEtude(
            step_stored_as(data["step"]) if data["version"] == 1 else step_or_line(data["step"]),
            str(data["instrument"]),
            read_notes(data["notes"]),
            {bar["number"]: _stored_bar(bar) for bar in data["chart"]["bars"]},
            read_line(data),
            replace(read_played_chart(data["chart"]), title=str(data["chart_title"])),
            Level(data["level"]),
            float(data["tempo_bpm"]),
            Feel(data["feel"]),
            int(data["seed"]),
            _limits(data["limits_midi"]),
            None if data["known_midi"] is None else frozenset(map(int, data["known_midi"])),
            Articulation(data.get("articulated", Articulation.PLAIN)),
            ghosts_of(data),
            _whole_form(data["whole"]) if "whole" in data else None,
        )
    except (KeyError, TypeError, ValueError, AttributeError, ZeroDivisionError, HalfstepError):
        raise ReadError("its notes are not as halfstep writes them") from None


def _whole_data(whole: WholeForm) -> dict[str, Any]:
    return {"first_bar": whole.first, "chart": played_chart_data(whole.chart)}


def _whole_form(data: dict[str, Any]) -> WholeForm:
    return WholeForm(read_played_chart(data["chart"]), int(data["first_bar"]))


def _limits(data: list[Any]) -> tuple[int, int]:
    low, high = map(int, data)
    return low, high


def _stored_bar(data: dict[str, Any]) -> StoredBar:
    chords = ((read_beats(chord["at"]), parse_symbol(chord["symbol"])) for chord in data["chords"])
    return StoredBar(read_beats(data["start"]), read_beats(data["beats"]), tuple(chords))
