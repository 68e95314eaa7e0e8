"""A lesson as data: ``lesson.json``, described in ``docs/lesson.schema.json``.

Note names are ASCII (``Eb4``), places are beats from the start of bar 1 and lengths are
beats, both as exact fractions in text (``7/2``).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from halfstep.backing import BandEnding
from halfstep.data.documents import JsonForm
from halfstep.data.harmony_json import change_data, chord_data, names_data
from halfstep.data.line_json import note_data
from halfstep.etude.explanation import explained
from halfstep.etude.touches import Touch, line_articulation, touches
from halfstep.etude.written_ending import WrittenEnding
from halfstep.etude.written_etude import ExerciseLine
from halfstep.harmony.analysis import Analysis
from halfstep.lesson.brief import file_stems
from halfstep.lesson.make import Lesson, PlayerLesson
from halfstep.part.transposed_part import Part
from halfstep.played import PlayedPart
from halfstep.progression.bars_data import played_chart_data

LESSON_FORM = JsonForm("halfstep-lesson", "a lesson", version=3)


def lesson_data(lesson: Lesson) -> dict[str, Any]:
    """The lesson as plain lists and dictionaries, before it has files: `with_files` names them."""
    brief = lesson.brief
    return {
        **LESSON_FORM.head,
        "title": brief.chart.title,
        "level": str(brief.level),
        "seed": brief.seed,
        "tempo_bpm": brief.pulses_a_minute,
        "quarters_a_minute": lesson.clock.beats_per_minute,
        "feel": str(brief.eighths),
        "style": brief.band_style.name,
        "swing_ratio": round(lesson.clock.swing, 3),
        "notices": list(lesson.notices),
        "chart": played_chart_data(brief.chart),
        "analysis": _analysis(lesson.analysis),
        "backing": {
            "block_choruses": lesson.block,
            "parts": [_played(part) for part in lesson.band],
            "ending": _band_ending(lesson.ending) if lesson.ending else None,
        },
        "line": brief.line.measure if brief.line else None,
        "players": [
            _player(player, stem)
            for player, stem in zip(lesson.players, file_stems(brief.players), strict=True)
        ],
        "files": [],
    }


def with_files(
    data: dict[str, Any], *, files: Sequence[str], sound: dict[str, Any]
) -> dict[str, Any]:
    """A lesson as data, with what is known of its files.

    Parameters
    ----------
    data : dict
        As `lesson_data` gives it.
    files : sequence of str
        Names of the other files, relative to the folder.
    sound : dict
        What is known of the backing file: frames, loop, choruses.
    """
    return {**data, "backing": {**data["backing"], **sound}, "files": list(files)}


def _beats(value: Fraction) -> str:
    return str(value)


def _analysis(analysis: Analysis) -> dict[str, Any]:
    return {
        "key": analysis.home.ascii,
        "key_fifths": analysis.home.fifths,
        "chords": [chord_data(analysed) for analysed in analysis.chords],
        "changes": [
            {
                "from_chord": index,
                "to_chord": (index + 1) % len(analysis.chords),
                **change_data(change),
            }
            for index, change in enumerate(analysis.changes)
            if change is not None
        ],
    }


def _played(part: PlayedPart) -> dict[str, Any]:
    return {
        "name": part.name,
        "program": part.program,
        "percussion": part.percussion,
        "notes": [
            {
                "start": _beats(note.onset),
                "beats": _beats(note.beats),
                "midi": note.midi,
                "velocity": note.velocity,
            }
            for note in part.notes
        ],
    }


def _band_ending(ending: BandEnding) -> dict[str, Any]:
    return {
        "start": _beats(ending.start),
        "beats": _beats(ending.beats),
        "parts": [_played(part) for part in ending.parts],
    }


def _player(player: PlayerLesson, stem: str) -> dict[str, Any]:
    instrument, part = player.instrument, player.part
    compass = instrument.compass(player.player.level)
    return {
        "instrument": instrument.key,
        "level": str(player.player.level),
        "name": player.player.name or None,
        "file_stem": stem,
        "program": instrument.program,
        "clef": str(instrument.clef),
        "written_above_concert": {
            "letters": part.interval.letters,
            "semitones": part.interval.semitones,
        },
        "written_key": part.key.ascii,
        "written_key_fifths": part.key.fifths,
        "written_range": [compass.low.ascii, compass.high.ascii],
        "chords": [_written_chord(part, index) for index in range(len(part.analysis.chords))],
        "example": _example(player.example, part) if player.example else None,
        "steps": [etude_data(etude, part) for etude in player.etudes],
    }


def exercises(player: dict[str, Any]) -> list[dict[str, Any]]:
    """What a player of a stored lesson was given: the teacher's line, and the steps."""
    example = player.get("example")
    return [*([example] if example else []), *player["steps"]]


def _written_chord(part: Part, index: int) -> dict[str, Any]:
    if part.analysis.chords[index].silent:
        return {"symbol": "N.C.", "tones": [], "scale": None}
    return {
        "symbol": part.symbol(index).ascii,
        "tones": names_data(part.names(index)),
        "scale": names_data(part.scale(index).names),
    }


def _example(line: ExerciseLine, part: Part) -> dict[str, Any]:
    """The teacher's line of one player."""
    pickup = part.of_line((*line.pickup, *line.notes))
    return {
        **etude_data(line, part),
        "pickup": [note_data(note, pickup, note.chord) for note in line.pickup],
    }


def etude_data(etude: ExerciseLine, part: Part) -> dict[str, Any]:
    """One step of one player."""
    part = part.of_line(etude.notes)
    starts = [analysed.span.start for analysed in etude.analysis.chords]
    # a rest in an etude belongs to no chord; here it names the one it stands under
    chords = (n.chord if n.pitch else bisect_right(starts, n.onset) - 1 for n in etude.notes)
    touched = touches(etude)[len(etude.pickup) :]
    return {
        "step": etude.step.name,
        "number": etude.step.number,
        "title": etude.step.title,
        "task": etude.step.task,
        "explained": list(explained(etude, part)),
        "notices": [notice.sentence(part.symbol) for notice in etude.notices],
        "articulated": str(line_articulation(etude)),
        "notes": [
            note_data(note, part, chord, touch)
            for note, chord, touch in zip(etude.notes, chords, touched, strict=False)
        ],
        "ending": _ending(etude.ending, part, touched[-1]) if etude.ending else None,
    }


def _ending(ending: WrittenEnding, part: Part, touch: Touch) -> dict[str, Any]:
    """The bar at home that is played the last time only."""
    return {
        "bar": ending.bar.number,
        "meter": str(ending.bar.meter),
        "start": _beats(ending.start),
        "beats": _beats(ending.bar.beats),
        "symbol": ending.symbol.ascii,
        "notes": [note_data(ending.note, part, ending.note.chord, touch)],
    }
