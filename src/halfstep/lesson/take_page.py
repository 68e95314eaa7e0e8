"""What stands on the picture of a take, in the player's written pitch."""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.part.take_part import Reads
from halfstep.render.take_picture import PictureNote, TakePicture


def picture_of(reads: Reads, facts: Sequence[str]) -> TakePicture:
    """What the picture shows."""
    notes = [
        PictureNote(
            onset_s=note.onset_s,
            offset_s=note.offset_s,
            pitch=pitch,
            cents=note.cents,
            certainty=note.certainty,
        )
        for note, pitch in zip(reads.heard.notes, reads.pitches(), strict=True)
    ]
    return TakePicture(reads.title, tuple(facts), reads.heard.length_s, tuple(notes))
