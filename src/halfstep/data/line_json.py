"""The notes of a written line as data: of a step in a lesson, of an etude in a file."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.line_edit import EditAction, LineChange, LineEdit, LineRewriting
from halfstep.etude.touches import UNTOUCHED, Touch
from halfstep.part.transposed_part import Part
from halfstep.pitch import Pitch, parse_pitch
from halfstep.score import Mark

_LONGEST_BEATS = 10_000_000


_TOUCHES = {
    Mark.SLUR: "slur", Mark.ACCENT: "accent", Mark.STACCATO: "staccato", Mark.TENUTO: "tenuto",
    Mark.GHOST: "ghost", Mark.SCOOP: "scoop", Mark.FALL: "fall",
}  # fmt: skip


def note_data(note: EtudeNote, part: Part, chord: int, touch: Touch = UNTOUCHED) -> dict[str, Any]:
    """A note as one player reads it, and as it sounds."""
    written = part.pitch(note)
    return {
        "start": str(note.onset),
        "beats": str(note.beats),
        "concert": note.pitch.ascii if note.pitch else None,
        "written": written.ascii if written else None,
        "midi": note.pitch.midi if note.pitch else None,
        "chord": chord,
        "degree": note.degree.ascii if note.degree else None,
        "changing": note.changing,
        "breath": note.breath,
        "approach": str(note.approach) or None,
        "articulation": [word for mark, word in _TOUCHES.items() if mark in touch.marks],
        "dynamic": touch.dynamic,
        **({"below": _below_data(note, part)} if note.below else {}),
    }


def _below_data(note: EtudeNote, part: Part) -> list[dict[str, Any]]:
    """What is struck with a note."""
    heads = zip(note.below, part.below(note), strict=True)
    return [
        {"concert": head.ascii, "written": written.ascii, "midi": head.midi}
        for head, written in heads
    ]


def read_notes(notes: Iterable[Any]) -> tuple[EtudeNote, ...]:
    """The notes and rests that were stored, in concert pitch.

    Raises
    ------
    HalfstepError, KeyError, TypeError, ValueError, ZeroDivisionError
        When they are not as they were written.
    """
    return tuple(map(_read_note, notes))


def read_line(data: dict[str, Any]) -> tuple[EtudeNote, ...]:
    """The notes of a step from bar 1 to the end of its ending, as `read_notes` has them."""
    ending = data.get("ending") or {"notes": ()}
    return read_notes((*data["notes"], *ending["notes"]))


def ghosts_of(data: dict[str, Any]) -> frozenset[Fraction]:
    """Where the notes of a step begin that are barely sounded; none in what is older than marks.

    Raises
    ------
    KeyError, TypeError, ValueError
        When they are not as they were written.
    """
    ghost = _TOUCHES[Mark.GHOST]
    notes = (note for note in data["notes"] if ghost in note.get("articulation", ()))
    return frozenset(read_beats(note["start"]) for note in notes)


def _read_note(data: dict[str, Any]) -> EtudeNote:
    onset, beats = read_beats(data["start"]), read_beats(data["beats"])
    if beats <= 0 or abs(onset) + beats > _LONGEST_BEATS:
        raise ValueError("no length")
    return EtudeNote(
        onset,
        beats,
        _pitch(data["concert"]),
        int(data["chord"]),
        breath=data["breath"] is True,
        approach=Approach(data["approach"] or ""),
        below=tuple(filter(None, (_pitch(head["concert"]) for head in data.get("below", ())))),
    )


_REWRITE = "rewrite"


def edit_data(edit: LineChange) -> dict[str, Any]:
    """An edit of a line as data."""
    if isinstance(edit, LineRewriting):
        return {"action": _REWRITE, "seed": edit.seed, "bars": list(edit.bars)}
    data = {"action": str(edit.action), "at": str(edit.at)}
    return {**data, "figure": list(map(str, edit.figure))} if edit.figure else data


def read_edit(data: dict[str, Any]) -> LineChange:
    """The edit of `edit_data`.

    Raises
    ------
    KeyError, TypeError, ValueError, ZeroDivisionError
        When it is no such edit.
    """
    if data["action"] == _REWRITE:
        return LineRewriting(int(data["seed"]), tuple(map(int, data["bars"])))
    figure = tuple(map(read_beats, data.get("figure", ())))
    return LineEdit(EditAction(data["action"]), read_beats(data["at"]), figure)


def read_beats(text: Any) -> Fraction:
    """A place or a length.

    Raises
    ------
    ValueError
    """
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
