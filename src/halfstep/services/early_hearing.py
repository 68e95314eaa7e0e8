"""A take is listened to while it is recorded: notes to be shown meanwhile, and a start for later.

Both lie in a folder of the recording: the notes a line each, in the order in which they were told,
and what whoever hears the whole need not work out again (`halfstep.listen.kept_estimates`). It
may be removed at any moment: the whole is then heard without.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.instruments import Instrument
from halfstep.listen.kept_estimates import ESTIMATES_FOLDER, EstimatesKept
from halfstep.services.request_fields import player_of

if TYPE_CHECKING:
    from halfstep.listen.growing_take import EarlyNote

NOTES_FILE = "notes.jsonl"
"""In a recording's folder."""


@dataclass(frozen=True, slots=True)
class GrowingRecording:
    """A recording that is still being made.

    Attributes
    ----------
    sound : Path
        Mono samples of 16 bits, the lower byte first.
    rate : int
        Samples a second.
    instrument : str
        Who plays.
    folder : Path
        Where what is heard of it goes.
    """

    sound: Path
    rate: int
    instrument: str
    folder: Path

    @property
    def text(self) -> str:
        """The same in one line."""
        return json.dumps([str(self.sound), self.rate, self.instrument, str(self.folder)])


def growing_recording(text: str) -> GrowingRecording:
    """The recording of a line that `GrowingRecording.text` gave."""
    sound, rate, instrument, folder = json.loads(text)
    return GrowingRecording(Path(sound), rate, instrument, Path(folder))


class EarlyHearing:
    """Listens to a recording as it grows; another may go on where one stopped.

    Parameters
    ----------
    recording : GrowingRecording
    """

    def __init__(self, recording: GrowingRecording) -> None:
        from halfstep.listen.growing_take import GrowingTake
        from halfstep.listen.tuned_ear import player_range
        from halfstep.services.hear_take import heard_limits
        from halfstep.services.room_band import asked_band

        told = early_notes(recording.folder)
        self._take = GrowingTake(
            recording.sound,
            recording.rate,
            player_range(*heard_limits(player_of(recording.instrument))),
            EstimatesKept(recording.folder / ESTIMATES_FOLDER),
            backing=asked_band(recording.folder),
            told_s=told[-1].onset_s if told else -1.0,
        )
        self._folder = recording.folder

    def hear_on(self) -> bool:
        """Hear a little of what is new, write down the notes, and tell whether there is more.

        Raises
        ------
        OSError
            When the recording is gone, or the disk is full.
        """
        notes = self._take.listen()
        if notes:
            self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            with (self._folder / NOTES_FILE).open("a") as file:
                file.write("".join(map(_line, notes)))
        return self._take.is_behind


def _line(note: EarlyNote) -> str:
    return json.dumps([round(note.onset_s, 3), note.midi, round(note.certainty, 3)]) + "\n"


def early_notes(folder: Path, after: int = 0) -> tuple[EarlyNote, ...]:
    """The notes that were told of a recording so far, without so many of the first."""
    return tuple(_notes(folder / NOTES_FILE))[after:]


def _notes(path: Path) -> Iterator[EarlyNote]:
    from halfstep.listen.growing_take import EarlyNote

    with suppress(OSError, ValueError, TypeError), path.open() as file:  # or not whole yet
        for line in file:
            yield EarlyNote(*json.loads(line))


def early_names(notes: tuple[EarlyNote, ...], player: Instrument, fifths: int) -> list[str]:
    """The notes as their player reads them, under the written signature of so many fifths."""
    from halfstep.part.take_part import spelled

    return [str(spelled(note.midi + player.rise.semitones, fifths)) for note in notes]
