"""Which notes does a player know? Those of a request, as written, and what they sound."""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.errors import BriefError, ReadError
from halfstep.instruments import Instrument
from halfstep.level import Level
from halfstep.pitch import Pitch, parse_pitch


def pitch_of_written(field: str, text: str, player: Instrument) -> Pitch:
    """The concert pitch of a note that the player reads, as a field of a request has it.

    Raises
    ------
    BriefError
    """
    try:
        pitch = player.concert(parse_pitch(text))
    except ReadError as error:
        raise BriefError(f"`{field}`: {error.message}") from None
    if not 0 <= pitch.midi <= 127:
        raise BriefError(f"`{field}` {text}: no instrument here plays it")
    return pitch


def known_pitches(text: str, player: Instrument) -> tuple[Pitch, ...]:
    """The concert pitches of the written notes that a field ``known_notes`` lists.

    Raises
    ------
    BriefError
    """
    words = text.replace(",", " ").split()
    if not words:
        raise BriefError(
            '`known_notes` is empty; give the written notes that are known: "G4 A4 B4"'
        )
    return tuple(pitch_of_written("known_notes", word, player) for word in words)


def notes_beyond(known: Sequence[Pitch], player: Instrument, level: Level) -> tuple[str, ...]:
    """Which known notes are left out, because the level's range lacks them.

    Raises
    ------
    BriefError
        When that is all of them.
    """
    compass = player.compass(level)
    out = [str(pitch) for pitch in map(player.written, known) if pitch not in compass]
    if not out:
        return ()
    missing = f"{player.key} at level {level} has {compass}, without {', '.join(out)}"
    if len(out) == len(known):
        raise BriefError(f"`known_notes`: {missing}; choose another `level` or other notes")
    return (f"{missing}; left out",)
