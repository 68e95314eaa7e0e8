"""What does it sound like? Parts -> stems, a mix and a line over it.

A file is one bar of count-in and a number of choruses. `band_sound` makes the band once,
`with_line` lays a player's line over it.

Conventions
-----------
- Finished sound is int16, shape (frames, 2), 44 100 frames a second; sound in the making
  is float32 with 1.0 at full scale.
- Notes start on the frame nearest to `Clock.seconds` of their onset and what they are late
  by; none starts before the stretch that it stands in.
- Every chorus has the same number of frames, the exact length rounded once. Choruses
  therefore never drift against each other; the tempo is off by less than half a frame
  in a chorus.
- What rings past the end of a chorus is folded back onto its start. A chorus is thus
  what a listener hears in the middle of many, and any stretch from one chorus boundary
  to another loops without a gap. The end of a file is such a boundary where nothing ends it.
  What precedes the first chorus is faded out at the bar line, so that all choruses are equal.
- What a part plays after the last beat of its chorus is its ending: it sounds once, behind the
  last chorus and out of the loop, over what rings on from there, and then rings out itself.
- The mix is the integer sum of the stems, frame by frame. The band is turned down where
  it would come above `PEAK_DBFS`, never clipped.
- Stems are balanced by loudness, so that another sound bank gives the same balance.

The targets in LUFS are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.known_banks import find_bank
from halfstep.render.loudness import loudness_lufs
from halfstep.render.sampler import FRAME_RATE, SampledNote, Sampler
from halfstep.render.soundbank import opened_bank

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Sound = npt.NDArray[np.float32]
    Samples = npt.NDArray[np.int16]

PEAK_DBFS = -1.0
"""The highest sample of any file, in decibels below full scale."""

TARGET_LUFS = {"bass": -21.0, "drums": -24.0, "chords": -25.0, "line": -19.0}
"""How loud each part is made; together the band comes to about -18."""

_OTHER_LUFS = -24.0
_COUNT_IN_LUFS = -23.0
_COUNT_IN_PEAK = 10.0 ** (-6.0 / 20.0)  # clicks are short: loud enough long before -23
_FULL_SCALE = 32767
_PEAK = 10.0 ** (PEAK_DBFS / 20.0)
_ROUNDING = 4  # each rounded stem may add half a step to the sum
_FADE_S = 0.03
_RING_S, _RING_FADE_S = 1.5, 1.0
"""How long an ending rings after its last beat, and the fade at the end of that."""
_LOUDEST_GAIN = 30.0  # a part of a few soft notes is not blown up into noise


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSound:
    """The band of one chart at one tempo, finished.

    Attributes
    ----------
    once : mapping of str to numpy.ndarray
        Each part's count-in, one chorus and the ending, by the name of the part.
    clock : Clock
    beats : Fraction
        Of one chorus.
    choruses : int
        How many the file has; all are alike.
    count_in_frames, chorus_frames : int
    ending_frames : int
        How long what comes behind the last chorus sounds; 0 where the chorus is the end.
    notices : tuple of str
        Where the sound bank had no instrument of that kind.
    bank : Path
        The sound bank used.
    """

    once: Mapping[str, Samples]
    clock: Clock
    beats: Fraction
    choruses: int
    count_in_frames: int
    chorus_frames: int
    notices: tuple[str, ...]
    bank: Path
    ending_frames: int = 0

    @property
    def loop(self) -> tuple[int, int]:
        """First frame of the first chorus, and the frame after the last chorus."""
        return self.count_in_frames, self.count_in_frames + self.choruses * self.chorus_frames

    @property
    def mix_once(self) -> Samples:
        """The sum of the stems, for the count-in, one chorus and the ending."""
        import numpy as np

        return np.asarray(sum(s.astype(np.int32) for s in self.once.values()), np.int16)

    def tiled(self, samples: Samples) -> Samples:
        """Count-in, chorus and ending with the chorus as often as the file has it."""
        import numpy as np

        end = self.count_in_frames + self.chorus_frames
        count_in, chorus, ending = np.split(samples, [self.count_in_frames, end])
        return np.concatenate([count_in, *[chorus] * self.choruses, ending])

    def with_choruses(self, choruses: int) -> BandSound:
        """The same band for a file of another length."""
        return replace(self, choruses=choruses)

    def without_ending(self) -> BandSound:
        """The same band for a file that stops with its last chorus."""
        end = self.count_in_frames + self.chorus_frames
        once = {name: samples[:end] for name, samples in self.once.items()}
        return replace(self, once=once, ending_frames=0)


@dataclass(frozen=True, slots=True)
class LineSound:
    """A line over the band.

    Attributes
    ----------
    samples : numpy.ndarray
    loop : tuple of (int, int)
        As in `BandSound`.
    notices : tuple of str
    """

    samples: Samples
    loop: tuple[int, int]
    notices: tuple[str, ...]


@lru_cache(maxsize=4)
def _sampler(path: Path) -> Sampler:
    return Sampler(opened_bank(path))


def frames_at(clock: Clock, beat: Fraction) -> int:
    """The frame nearest to a beat, counted from beat 0."""
    return round(clock.seconds(beat) * FRAME_RATE)


def _laid_out(
    part: PlayedPart,
    notes: Sequence[PlayedNote],
    clock: Clock,
    bank: Path,
    *,
    first: int,
    frames: int,
) -> Sound:
    """Notes laid on a stretch of sound that begins at frame ``first``, with their tails."""
    sampler = _sampler(bank)
    preset, _ = sampler.bank.preset(part.program, percussion=part.percussion)
    strokes = [_sampled(note, clock, first) for note in notes]
    return sampler.part(preset, strokes, rings=part.percussion, frames=frames)


def _sampled(note: PlayedNote, clock: Clock, first: int) -> SampledNote:
    """A note with its first frame, counted from ``first``."""
    start_s, end_s = clock.seconds(note.onset), clock.seconds(note.onset + note.beats)
    start = round((start_s + note.late_s) * FRAME_RATE) - first
    return SampledNote(max(0, start), note.midi, note.velocity, end_s - start_s + note.longer_s)


def folded(sound: Sound, frames: int) -> Sound:
    """A chorus as heard among many: what lies past ``frames`` added onto its start."""
    import numpy as np

    chorus = np.zeros((frames, 2), np.float32)
    for start in range(0, len(sound), frames):
        stretch = sound[start : start + frames]
        chorus[: len(stretch)] += stretch
    return chorus


@dataclass(frozen=True, slots=True)
class _Stem:
    """A part before it is rounded: the count-in, of its exact length, chorus and ending."""

    before: Sound
    chorus: Sound
    after: Sound

    @property
    def once(self) -> Sound:
        """Count-in, chorus and ending."""
        import numpy as np

        return np.concatenate([self.before, self.chorus, self.after])


def _stem(
    part: PlayedPart,
    clock: Clock,
    bank: Path,
    *,
    count_in: PlayedPart | None,
    count_in_frames: int,
    chorus_frames: int,
    ending_frames: int,
) -> _Stem:
    """A part's chorus, folded and balanced, what is heard before beat 0, and its ending.

    A pickup has the gain of its part; a count-in is balanced by itself.
    """
    starts = [(frames_at(clock, note.onset), note) for note in part.notes]
    notes = [note for start, note in starts if 0 <= start < chorus_frames]
    pickup = [note for start, note in starts if -count_in_frames <= start < 0]
    last = [note for start, note in starts if start >= chorus_frames]
    laid = _laid_out(part, notes, clock, bank, first=0, frames=chorus_frames)
    chorus = folded(laid, chorus_frames)
    gain = _gain_to(chorus, TARGET_LUFS.get(part.name, _OTHER_LUFS))
    before = gain * _laid_out(part, pickup, clock, bank, first=-count_in_frames, frames=0)
    if count_in:
        clicks = _laid_out(count_in, count_in.notes, clock, bank, first=-count_in_frames, frames=0)
        before = clicks * _click_gain(clicks)
    ending = _laid_out(part, last, clock, bank, first=chorus_frames, frames=ending_frames)
    after = _rung_out(laid[chorus_frames:], ending, ending_frames)
    return _Stem(_faded(before, count_in_frames), gain * chorus, gain * after)


def _rung_out(before: Sound, ending: Sound, frames: int) -> Sound:
    """An ending over what rings on from the chorus, cut to its length with a fade."""
    import numpy as np

    after = np.zeros((frames, 2), np.float32)
    for sound in (before[:frames], ending[:frames]):
        after[: len(sound)] += sound
    fade = min(frames, round(_RING_FADE_S * FRAME_RATE))
    after[frames - fade :] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)[:, None]
    return after


def _faded(before: Sound, frames: int) -> Sound:
    """The count-in cut at the bar line with a short fade, so that no chorus holds its tail."""
    import numpy as np

    cut = np.zeros((frames, 2), np.float32)
    cut[: min(frames, len(before))] = before[:frames]
    fade = min(frames, round(_FADE_S * FRAME_RATE))
    cut[frames - fade :] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)[:, None]
    return cut


def _click_gain(clicks: Sound) -> float:
    """The gain of a count-in: by loudness, but no click above its peak."""
    import numpy as np

    highest = float(np.abs(clicks).max(initial=0.0))
    gain = _gain_to(clicks, _COUNT_IN_LUFS)
    return min(gain, _COUNT_IN_PEAK / highest) if highest else 1.0


def _gain_to(sound: Sound, target_lufs: float) -> float:
    measured = loudness_lufs(sound)
    if measured == float("-inf"):
        return 1.0
    return min(_LOUDEST_GAIN, float(10.0 ** ((target_lufs - measured) / 20.0)))


def band_sound(
    parts: Sequence[PlayedPart],
    *,
    count_in: PlayedPart,
    clock: Clock,
    count_in_beats: Fraction,
    beats: Fraction,
    ending_beats: Fraction = Fraction(0),
    choruses: int = 1,
    bank: str | Path | None = None,
) -> BandSound:
    """The band's file: stems, their sum, and where it loops.

    Parameters
    ----------
    parts : sequence of PlayedPart
        One chorus each, from beat 0; what lies behind it is played after the last chorus.
    count_in : PlayedPart
        Notes before beat 0; they sound in the stem of the part of the same name, which is
        made where there is none.
    clock : Clock
    count_in_beats : Fraction
        Length of the count-in.
    beats : Fraction
        Length of a chorus.
    ending_beats : Fraction
        Length of what comes after the last chorus; 0 where nothing does.
    choruses : int
        At least 1.
    bank : str or Path, optional
        See `halfstep.render.known_banks.find_bank`.
    """
    import numpy as np

    path = find_bank(bank)
    if count_in.name not in {part.name for part in parts}:
        parts = [replace(count_in, notes=()), *parts]
    count_in_frames = -frames_at(clock, -count_in_beats)
    chorus_frames = frames_at(clock, beats)
    ending_frames = _ending_frames(clock, beats, ending_beats)
    floats = {}
    for part in parts:
        stem = _stem(
            part,
            clock,
            path,
            count_in=count_in if part.name == count_in.name else None,
            count_in_frames=count_in_frames,
            chorus_frames=chorus_frames,
            ending_frames=ending_frames,
        )
        floats[part.name] = stem.once
    scale = _headroom(sum(floats.values(), start=np.zeros((1, 2), np.float32)))
    return BandSound(
        once={name: _integers(sound, scale) for name, sound in floats.items()},
        clock=clock,
        beats=beats,
        choruses=choruses,
        count_in_frames=count_in_frames,
        chorus_frames=chorus_frames,
        ending_frames=ending_frames,
        notices=tuple(filter(None, (_notice(part, path) for part in parts))),
        bank=path,
    )


def _ending_frames(clock: Clock, beats: Fraction, ending_beats: Fraction) -> int:
    if not ending_beats:
        return 0
    bar_frames = frames_at(clock, beats + ending_beats) - frames_at(clock, beats)
    return bar_frames + round(_RING_S * FRAME_RATE)


def with_line(band: BandSound, line: PlayedPart) -> LineSound:
    """A player's line over the band, in the sound of its instrument.

    Parameters
    ----------
    band : BandSound
    line : PlayedPart
        Concert pitch, one chorus from beat 0; notes before beat 0 are a pickup, played
        in the count-in, those behind the chorus are played in the band's ending. Line and
        band are turned down together where they would clip.
    """
    import numpy as np

    stem = _stem(
        line,
        band.clock,
        band.bank,
        count_in=None,
        count_in_frames=band.count_in_frames,
        chorus_frames=band.chorus_frames,
        ending_frames=band.ending_frames,
    )
    sound = stem.once + band.mix_once.astype(np.float32) / np.float32(_FULL_SCALE)
    samples = band.tiled(_integers(sound, _headroom(sound)))
    notice = _notice(line, band.bank)
    return LineSound(samples, band.loop, (notice,) if notice else ())


def _notice(part: PlayedPart, bank: Path) -> str:
    return _sampler(bank).bank.preset(part.program, percussion=part.percussion)[1]


def _headroom(sound: Sound) -> float:
    """The factor that keeps the highest sample at or under `PEAK_DBFS`; 1 at most."""
    import numpy as np

    highest = float(np.abs(sound).max(initial=0.0))
    room = _PEAK - _ROUNDING / _FULL_SCALE
    return min(1.0, room / highest) if highest else 1.0


def _integers(sound: Sound, scale: float) -> Samples:
    import numpy as np

    return np.asarray(np.rint(sound * np.float32(scale * _FULL_SCALE)), np.int16)
