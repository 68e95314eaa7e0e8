"""What was heard of a take, as data, in seconds of the recording and concert pitch."""

from __future__ import annotations

from typing import Any

from halfstep.listen.heard_take import HeardNote
from halfstep.part.take_part import Reads


def heard_data(reads: Reads) -> dict[str, Any]:
    """All that was heard, as data; what is not known is null."""
    heard = reads.heard
    return {
        "length_s": round(heard.length_s, 4),
        "tuning_cents": round(heard.tuning_cents, 1),
        "delay_s": _rounded(heard.delay_s, 4),
        "form_s": _rounded(reads.form_s, 4),
        "leak_db": _rounded(heard.leak_db, 1),
        "rate_ratio": round(heard.rate_ratio, 6),
        "notices": list(heard.notices),
        "notes": [_note_data(note) for note in heard.notes],
    }


def _rounded(figure: float | None, digits: int) -> float | None:
    return None if figure is None else round(figure, digits)


def _note_data(note: HeardNote) -> dict[str, Any]:
    return {
        "onset_s": round(note.onset_s, 4),
        "offset_s": round(note.offset_s, 4),
        "midi": note.midi,
        "cents": round(note.cents, 1),
        "level_db": round(note.level_db, 1),
        "certainty": round(note.certainty, 3),
    }
