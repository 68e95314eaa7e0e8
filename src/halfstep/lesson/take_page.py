"""What stands on the picture of a take, in the player's written pitch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from halfstep.part.take_part import WrittenTake
from halfstep.render.take_picture import PictureNote, TakePicture, clock_text


def picture_of(written: WrittenTake, facts: Sequence[str]) -> TakePicture:
    """What the picture shows."""
    notes = [
        PictureNote(
            onset_s=note.onset_s,
            offset_s=note.offset_s,
            pitch=pitch,
            cents=note.cents,
            certainty=note.certainty,
        )
        for note, pitch in zip(written.take.notes, written.pitches(), strict=True)
    ]
    return TakePicture(written.title, tuple(facts), written.take.length_s, tuple(notes))


def signed(figure: float, form: str = "d") -> str:
    """A whole number with a true minus sign."""
    return f"{round(figure):{form}}".replace("-", "−")


def take_facts(written: WrittenTake) -> Iterator[str]:
    """Who plays, how many notes, from where to where, tuning, and the backing."""
    take = written.take
    transposes = written.player.rise.semitones != 0
    yield f"{written.player.label}{', written pitch' if transposes else ''}"
    pitches = written.pitches()
    yield f"{len(pitches)} note{'s' * (len(pitches) != 1)} in {clock_text(take.length_s)}"
    if pitches:
        low, high = (end(pitches, key=lambda pitch: pitch.midi) for end in (min, max))
        yield f"{low} to {high}"
        hz = 440 * 2 ** (take.tuning_cents / 1200)
        yield f"tuned {signed(take.tuning_cents, '+d')} cents (A = {hz:.1f} Hz)"
    if take.delay_s is not None:
        yield f"backing {1000 * take.delay_s:.0f} ms late"
    if take.leak_db is not None:
        yield f"leaks in at {signed(take.leak_db)} dB"
