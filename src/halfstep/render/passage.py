"""What of a part is heard before, in and after its choruses? Notes laid out in a file's time.

Conventions
-----------
- A file has three stretches: what precedes beat 0, the block of choruses, which is
  repeated, and what follows the last chorus.
- What rings past the end of the block is folded back onto its start. A block is thus what
  a listener hears in the middle of many, and loops without a gap.
- What follows the last chorus is what rings on from there, and the ending where there is
  one. A file whose choruses are no whole number of blocks ends within one.
- Notes are heard on the frame nearest to `Clock.seconds` of their onset and what they are
  late by, for which a reed is set going earlier; none starts before the chorus that it stands in.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart, Slur
from halfstep.render.room import MEMORY, Bus, added, in_room
from halfstep.render.sampler import FRAME_RATE, JOINT_S, SampledNote, Sampler
from halfstep.render.soundbank import opened_bank

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Sound = npt.NDArray[np.float32]

RING_S = 1.5
"""How long a file rings after its last beat, to silence in its last second."""
SUSTAINED = frozenset({*range(40, 45), *range(48, 80)})
"""General MIDI programs of bow and breath, which sound as long as they are held."""
_RING_FADE_S, _CUT_FADE_S, _START_FADE_S = 1.0, 0.03, 0.003


@lru_cache(maxsize=4)
def sampler_of(path: Path) -> Sampler:
    """The player of a bank, with what it has made."""
    return Sampler(opened_bank(path))


def frames_at(clock: Clock, beat: Fraction) -> int:
    """The frame nearest to a beat, counted from beat 0."""
    return round(clock.seconds(beat) * FRAME_RATE)


def faded(sound: Sound, fade_s: float) -> Sound:
    """A sound that falls to nothing at its end; shape (…, frames)."""
    import numpy as np

    fade = min(sound.shape[-1], round(fade_s * FRAME_RATE))
    out = sound.copy()
    out[..., sound.shape[-1] - fade :] *= np.linspace(1.0, 0.0, fade + 1, dtype=np.float32)[1:]
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class FilePlan:
    """When everything in a file is.

    Attributes
    ----------
    clock : Clock
    beats : Fraction
        Of a chorus.
    count_in_frames : int
    starts : tuple of int
        The first frame of each chorus of the block, and where the block ends.
    choruses : int
        Of the file.
    ending_beats : Fraction
    """

    clock: Clock
    beats: Fraction
    count_in_frames: int
    starts: tuple[int, ...]
    choruses: int
    ending_beats: Fraction = Fraction(0)

    @property
    def block(self) -> int:
        """Choruses of the block."""
        return len(self.starts) - 1

    @property
    def block_frames(self) -> int:
        """Its length."""
        return self.starts[-1]

    @property
    def last(self) -> int:
        """Which chorus of the block ends the file, counted from 1."""
        return (self.choruses - 1) % self.block + 1

    @property
    def after_frames(self) -> int:
        """How long the file goes on behind its last chorus."""
        end = self.beats * self.last
        bar = frames_at(self.clock, end + self.ending_beats) - frames_at(self.clock, end)
        return bar + round(RING_S * FRAME_RATE)

    def of_one_chorus(self) -> FilePlan:
        """The plan of a file of the first chorus alone."""
        return replace(self, starts=self.starts[:2], choruses=1)

    def without_ending(self) -> FilePlan:
        """The plan of a file that only rings out."""
        return replace(self, ending_beats=Fraction(0))


@dataclass(frozen=True, slots=True)
class LaidFile:
    """A part, or several, on the way into the room.

    Attributes
    ----------
    before, body, after : Bus
        As long as their stretches.
    """

    before: Bus
    body: Bus
    after: Bus

    def __add__(self, other: LaidFile) -> LaidFile:
        """Both together."""
        return LaidFile(
            self.before + other.before, self.body + other.body, self.after + other.after
        )


@dataclass(frozen=True, slots=True)
class PartNotes:
    """A part by where its notes stand.

    Attributes
    ----------
    part : PlayedPart
        Its notes are those of the block.
    before, ending : tuple of PlayedNote
        Those before beat 0, and those behind the first chorus that are played behind the last.
    """

    part: PlayedPart
    before: tuple[PlayedNote, ...] = ()
    ending: tuple[PlayedNote, ...] = ()


@dataclass(frozen=True, slots=True)
class PartLayout:
    """Lays out the notes of a part.

    Attributes
    ----------
    notes : PartNotes
    plan : FilePlan
    bank : Path
    """

    notes: PartNotes
    plan: FilePlan
    bank: Path

    def block(self) -> Sound:
        """The block, and what rings on behind it; shape (2, frames), middle and side."""
        return self._laid(self._of_choruses(self.plan.block), 0, self.plan.block_frames)

    def before(self) -> Sound:
        """What precedes beat 0, as long as it is."""
        first = -self.plan.count_in_frames
        return cut(self._laid(self.notes.before, first, 0), self.plan.count_in_frames)

    def after(self, block: Sound) -> Sound:
        """What rings on behind the last chorus, and the ending over it.

        Parameters
        ----------
        block : numpy.ndarray
            As `block` gives it.
        """
        plan, frames = self.plan, self.plan.after_frames
        end = plan.starts[plan.last]
        laid = block
        if plan.last < plan.block:  # what comes later in the block is not begun
            laid = self._laid(self._of_choruses(plan.last), 0, end)
        ring = cut(laid[:, end:], frames)
        for start in range(plan.block_frames + end, block.shape[-1], plan.block_frames):
            ring = added(ring, cut(block[:, start:], frames))
        shift = plan.beats * (plan.last - 1)
        notes = [replace(note, onset=note.onset + shift) for note in self.notes.ending]
        return cut(added(ring, self._laid(notes, end, frames)), frames)

    def stretch(self, notes: Iterable[PlayedNote], first: int) -> Sound:
        """Some notes of it, with all that rings on behind them, from a frame on."""
        return self._laid(notes, first, 0)

    def _of_choruses(self, choruses: int) -> list[PlayedNote]:
        end = self.plan.beats * choruses
        return [note for note in self.notes.part.notes if note.onset < end]

    def _laid(self, notes: Iterable[PlayedNote], first: int, frames: int) -> Sound:
        """Notes on a stretch of sound that begins at frame ``first``, with their tails."""
        import numpy as np

        sampler, part = sampler_of(self.bank), self.notes.part
        preset, _ = sampler.bank.preset(part.program, percussion=part.percussion)
        strokes = [self._sampled(note, first, self._rise(preset, note)) for note in notes]
        left, right = sampler.part(preset, strokes, rings=part.percussion, frames=frames).T
        sound = np.empty((2, len(left)), np.float32)
        np.add(left, right, out=sound[0])
        np.subtract(left, right, out=sound[1])
        sound *= np.float32(0.5)
        return sound

    def _rise(self, preset: int, note: PlayedNote) -> int:
        """How much earlier a note is set going than it is heard."""
        if self.notes.part.percussion:
            return 0
        if Slur.FROM in self._slur(note):
            return round(JOINT_S * FRAME_RATE) // 2
        return sampler_of(self.bank).rise(preset, note.midi, note.velocity)

    def _sampled(self, note: PlayedNote, first: int, rise: int) -> SampledNote:
        """A note with its first frame, counted from ``first``."""
        clock = self.plan.clock
        start_s, end_s = clock.seconds(note.onset), clock.seconds(note.onset + note.beats)
        heard_at, earliest = (
            round((start_s + note.late_s) * FRAME_RATE),
            self._earliest(note, first),
        )
        start = max(heard_at - rise, earliest)
        early_s = max(0, heard_at - start) / FRAME_RATE
        length_s = end_s - start_s + note.longer_s + early_s
        return SampledNote(
            start - first, note.midi, note.velocity, length_s, self._slur(note), note.bend
        )

    def _slur(self, note: PlayedNote) -> Slur:
        """How a note is joined; what is struck or plucked has an attack in any case."""
        sustained = self.notes.part.program in SUSTAINED
        return note.slur if note.slur and sustained else Slur.NONE

    def _earliest(self, note: PlayedNote, first: int) -> int:
        chorus = int(note.onset // self.plan.beats)
        return self.plan.starts[chorus] if 0 <= chorus < self.plan.block else first


def cut(sound: Sound, frames: int) -> Sound:
    """A sound of exactly so many frames, shape (…, frames)."""
    import numpy as np

    out = np.zeros((*sound.shape[:-1], frames), np.float32)
    out[..., : sound.shape[-1]] = sound[..., :frames]
    return out


def folded(sound: Sound, frames: int) -> Sound:
    """A block as heard among many: what lies past ``frames`` added onto its start."""
    block = cut(sound, frames)
    for start in range(frames, sound.shape[-1], frames):
        stretch = sound[..., start : start + frames]
        block[..., : stretch.shape[-1]] += stretch
    return block


def heard(passage: LaidFile, plan: FilePlan, *, width: float | None = None) -> Sound:
    """What a listener in the room hears of a passage: its stretches in a row, as `in_room` does.

    What precedes beat 0 begins gently and is faded out at the bar line, so that no chorus
    holds its tail; what follows the last chorus fades at its end.
    """
    import numpy as np

    first = passage.before.frames
    end = first + passage.body.frames
    sound = np.empty((3 if width is None else 2, end + passage.after.frames), np.float32)
    before = faded(in_room(passage.before, width=width), _CUT_FADE_S)
    sound[:, :first] = faded(before[..., ::-1], _START_FADE_S)[..., ::-1]
    in_room(passage.body, passage.body.last(MEMORY), width=width, out=sound[:, first:end])
    last = passage.body.last(MEMORY, end=plan.starts[plan.last])
    sound[:, end:] = faded(in_room(passage.after, last, width=width), _RING_FADE_S)
    return sound
