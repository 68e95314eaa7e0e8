"""What does it sound like? Parts -> stems, a mix and a line over it.

A file is one bar of count-in and a number of choruses. `band_sound` makes the band,
`with_line` lays a player's line over its first chorus.

Conventions
-----------
- Finished sound is int16, shape (frames, 2), 44 100 frames a second; sound in the making
  is float32 with 1.0 at full scale, shape (2, frames), middle and side.
- How a file is laid out in time, and what loops, stands in `halfstep.render.passage`.
- Parts are balanced by loudness, so that another sound bank gives the same balance, and
  stand in one small room. The whole comes to `TARGET_LUFS`, and where it would rise over
  `CEILING_DBTP` between its samples it is lowered smoothly, never clipped.
- The mix is the integer sum of the stems, frame by frame: all that is done to the mix is
  done to each of them.
- The room is heard narrower or wider, so that left and right agree as `WIDTHS` says.
- A file is filled up with silence to whole packets of `PACKET` frames.
- Products are added up by numpy itself: a library for matrices adds in another order on another
  number of cores, and the same seed would not give the same bytes.

The levels are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import reduce
from operator import add
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.meter import Clock
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.known_banks import find_bank
from halfstep.render.loudness import STEP, lufs_of, step_powers
from halfstep.render.passage import (
    FilePlan,
    LaidFile,
    PartLayout,
    PartNotes,
    folded,
    frames_at,
    heard,
    sampler_of,
)
from halfstep.render.room import Bus
from halfstep.render.true_peak import SMOOTH, needed_gain, smoothed

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Sound = npt.NDArray[np.float32]
    Samples = npt.NDArray[np.int16]

TARGET_LUFS = -20.0
"""How loud every file is."""
CEILING_DBTP = -3.0
"""How high it may rise between its samples: an encoder adds 1.5 dB at most to such a mix."""
PART_LUFS = {"bass": -21.0, "drums": -24.0, "chords": -25.0, "line": -19.0}
"""How loud each part is made before the whole is; only the differences count."""
SEND_DB = {"bass": -24.0, "drums": -12.0, "chords": -9.0, "line": -10.0}
"""How much of each part the room gives back."""
WIDTHS = (0.70, 0.92)
"""Between what the correlation of left and right lies, as far as the room can make it."""
PACKET = 1024

_OTHER_LUFS, _OTHER_SEND_DB = -24.0, -14.0
_COUNT_IN_LUFS = -23.0
_COUNT_IN_PEAK = 10.0 ** (-6.0 / 20.0)  # clicks are short: loud enough long before -23
_FULL_SCALE = 32767
_LOUDEST_GAIN = 30.0  # a part of a few soft notes is not blown up into noise
_WIDEST = 3.0
_AT_ONCE = 1 << 13
"""Frames that are added up or rounded at once: as many as stay in the processor's cache."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSound:
    """The band of one chart at one tempo, finished.

    Attributes
    ----------
    mix_once : numpy.ndarray
        Count-in, the block of choruses once, and what follows the last chorus.
    once : mapping of str to numpy.ndarray
        Each part the same way, by its name; nothing where no stems were asked for.
    plan : FilePlan
    steps : tuple of StepBand
        The band under a line: with the ending, where there is one, and without it.
    gain : float
        What the band was multiplied by after it was balanced.
    notices : tuple of str
        Where the sound bank had no instrument of that kind.
    bank : Path
        The sound bank used.
    """

    mix_once: Samples
    once: Mapping[str, Samples]
    plan: FilePlan
    steps: tuple[StepBand, ...]
    gain: float
    notices: tuple[str, ...]
    bank: Path

    @property
    def choruses(self) -> int:
        """How many the file has."""
        return self.plan.choruses

    @property
    def count_in_frames(self) -> int:
        """How long it is counted in."""
        return self.plan.count_in_frames

    @property
    def loop(self) -> tuple[int, int]:
        """First frame of the first chorus, and the frame after the last whole block."""
        return _loop(self.plan)

    @property
    def step_loop(self) -> tuple[int, int]:
        """The same of the file of a step."""
        return _loop(self.steps[0].plan)

    def under_lines(self) -> BandSound:
        """The band with no more than `with_line` needs of it."""
        return replace(self, mix_once=self.mix_once[:0], once={})

    def tiled(self, samples: Samples) -> Samples:
        """A file of all choruses, of a stem or the mix."""
        return _tiled(samples, self.plan)


@dataclass(frozen=True, slots=True)
class StepBand:
    """The band for a step: one chorus of it, before it is brought to its loudness.

    Attributes
    ----------
    sound : numpy.ndarray
        Count-in, the chorus and what follows it; shape (2, frames), middle and side.
    plan : FilePlan
    width : float
        What the side of the walls was multiplied by.
    """

    sound: Sound
    plan: FilePlan
    width: float


@dataclass(frozen=True, slots=True)
class LineSound:
    """A line over the band.

    Attributes
    ----------
    samples : numpy.ndarray
    alone : numpy.ndarray or None
        The line by itself, as loud as it stands over the stems of the band.
    loop : tuple of (int, int)
        As in `BandSound`.
    notices : tuple of str
    """

    samples: Samples
    alone: Samples | None
    loop: tuple[int, int]
    notices: tuple[str, ...]

    def going_round(self, times: int) -> LineSound:
        """The same, what lies between the count-in and the end so many times."""
        import numpy as np

        first, end = self.loop
        before, round_, after = np.split(self.samples, [first, end])
        pieces = [before, *[round_] * times, after]
        frames = sum(map(len, pieces))
        samples = np.concatenate([*pieces, np.zeros((-frames % PACKET, 2), np.int16)])
        return replace(self, samples=samples, alone=None, loop=(first, first + times * len(round_)))


def _loop(plan: FilePlan) -> tuple[int, int]:
    blocks = plan.choruses // plan.block
    return plan.count_in_frames, plan.count_in_frames + blocks * plan.block_frames


def _tiled(samples: Samples, plan: FilePlan) -> Samples:
    import numpy as np

    first, end = plan.count_in_frames, plan.count_in_frames + plan.block_frames
    before, block, after = np.split(samples, [first, end])
    blocks, rest = divmod(plan.choruses, plan.block)
    pieces = [before, *[block] * blocks, block[: plan.starts[rest]], after]
    frames = sum(map(len, pieces))
    return np.concatenate([*pieces, np.zeros((-frames % PACKET, 2), np.int16)])


def band_sound(
    parts: Sequence[PlayedPart],
    *,
    count_in: PlayedPart,
    clock: Clock,
    count_in_beats: Fraction,
    beats: Fraction,
    block: int = 1,
    choruses: int = 1,
    intro: Sequence[PlayedPart] = (),
    ending: Sequence[PlayedPart] = (),
    ending_beats: Fraction = Fraction(0),
    bank: str | Path | None = None,
    stems: bool = True,
) -> BandSound:
    """The band's file: the mix, its stems, and where it loops.

    Parameters
    ----------
    parts : sequence of PlayedPart
        A block of choruses each, from beat 0.
    count_in : PlayedPart
        Notes before beat 0; they sound in the stem of the part of the same name, which is
        made where there is none.
    clock : Clock
    count_in_beats : Fraction
        Length of all that precedes beat 0.
    beats : Fraction
        Length of a chorus.
    block : int
        Choruses that the parts cover.
    choruses : int
        Of the file, at least as many; where it is no whole number of blocks the file ends
        within one.
    intro : sequence of PlayedPart
        Notes before beat 0, which are played once.
    ending : sequence of PlayedPart
        Notes behind the first chorus, which are played behind the last one.
    ending_beats : Fraction
        Length of what comes after the last chorus; 0 where nothing does.
    bank : str or Path, optional
        See `halfstep.render.soundbank.find_bank`.
    stems : bool
        Each part alone as well.
    """
    path = find_bank(bank)
    if count_in.name not in {part.name for part in parts}:
        parts = [replace(count_in, notes=()), *parts]
    plan = FilePlan(
        clock=clock,
        beats=beats,
        count_in_frames=-frames_at(clock, -count_in_beats),
        starts=tuple(frames_at(clock, beats * chorus) for chorus in range(block + 1)),
        choruses=choruses,
        ending_beats=ending_beats,
    )
    laid: dict[str, LaidFile] = {}

    def balanced(part: PlayedPart) -> _BalancedPart:
        notes = PartNotes(part, before=_notes_of(part, intro), ending=_notes_of(part, ending))
        made = _balanced(notes, plan, path, count_in=count_in)
        if stems:  # only then: each takes the memory of the whole
            laid[part.name] = made.file
        return made

    together = reduce(add, map(balanced, parts))
    return _finished(together, laid, plan, path, notices=_notices(parts, path))


@dataclass(frozen=True, slots=True)
class _BalancedPart:
    """A part at its level: in the band's file, and in files of one chorus that are another."""

    file: LaidFile
    steps: tuple[LaidFile, ...]

    def __add__(self, other: _BalancedPart) -> _BalancedPart:
        """Both together."""
        steps = zip(self.steps, other.steps, strict=True)
        return _BalancedPart(self.file + other.file, tuple(one + two for one, two in steps))


def _notes_of(part: PlayedPart, others: Sequence[PlayedPart]) -> tuple[PlayedNote, ...]:
    """What else a part plays."""
    return tuple(note for other in others if other.name == part.name for note in other.notes)


def _balanced(
    notes: PartNotes, plan: FilePlan, bank: Path, *, count_in: PlayedPart
) -> _BalancedPart:
    part = notes.part
    layout = PartLayout(notes, plan, bank)
    block = layout.block()
    body = folded(block, plan.block_frames)
    gain = part_gain(part.name, body)
    before = layout.before()
    if count_in.name == part.name:
        clicks = PartNotes(replace(count_in, notes=()), before=count_in.notes)
        before = before + clicks_at_level(PartLayout(clicks, plan, bank).before()) / gain
    file = _passage(part.name, gain, before, body, layout.after(block))
    if _step_plans(plan) == (plan,):
        return _BalancedPart(file, ())
    return _BalancedPart(file, tuple(_step_passages(layout, part.name, gain, before)))


def _step_passages(layout: PartLayout, name: str, gain: float, before: Sound) -> Iterable[LaidFile]:
    """The first chorus for a step with the ending, where there is one, and for one without."""
    one = layout.plan.of_one_chorus()
    chorus = PartLayout(layout.notes, one, layout.bank).block()
    body = folded(chorus, one.block_frames)
    for plan in _step_plans(layout.plan):
        notes = layout.notes if plan.ending_beats else replace(layout.notes, ending=())
        after = PartLayout(notes, plan, layout.bank).after(chorus)
        yield _passage(name, gain, before, body, after)


def _step_plans(plan: FilePlan) -> tuple[FilePlan, ...]:
    one = plan.of_one_chorus()
    return (one, one.without_ending()) if plan.ending_beats else (one,)


def _passage(name: str, gain: float, before: Sound, body: Sound, after: Sound) -> LaidFile:
    """Stretches of a part at its level, with what the walls are told of them."""
    return LaidFile(*(part_bus(name, gain * stretch) for stretch in (before, body, after)))


def part_bus(name: str, sound: Sound) -> Bus:
    """A part at its level on its way into the room, with what the walls are told of it."""
    import numpy as np

    send = 10.0 ** (SEND_DB.get(name, _OTHER_SEND_DB) / 20.0)
    dry = np.asarray(sound, np.float32)
    return Bus(dry, dry[0] * np.float32(send), send)


def part_gain(name: str, body: Sound) -> float:
    """What brings a part, dry, to its level."""
    return _gain_to(body[:1], PART_LUFS.get(name, _OTHER_LUFS))  # the side of a part is soft


def _gain_to(sound: Sound, target_lufs: float) -> float:
    measured = _lufs(sound)
    if measured == float("-inf"):
        return 1.0
    return min(_LOUDEST_GAIN, float(10.0 ** ((target_lufs - measured) / 20.0)))


def _lufs(sound: Sound) -> float:
    """The loudness of left and right together, from middle and side."""
    return lufs_of(2.0 * step_powers(sound))


def clicks_at_level(sound: Sound) -> Sound:
    """A count-in at its level."""
    import numpy as np

    return sound * np.float32(clicks_gain(sound))


def clicks_gain(sound: Sound) -> float:
    """What brings clicks to their level: by loudness, but none above its peak."""
    import numpy as np

    highest = float(np.abs(sound).max(initial=0.0))
    return min(_gain_to(sound, _COUNT_IN_LUFS), _COUNT_IN_PEAK / highest) if highest else 1.0


def _finished(
    together: _BalancedPart,
    laid: Mapping[str, LaidFile],
    plan: FilePlan,
    bank: Path,
    *,
    notices: tuple[str, ...],
) -> BandSound:
    """The band in the room, at its width and its loudness, as whole numbers."""
    lanes = heard(together.file, plan)
    width = _width(lanes[:, plan.count_in_frames :][:, : plan.block_frames])
    sound = _at_width(lanes, width)
    gain, curve = _gain_curve(sound, plan)
    mix = integers(sound, curve)
    return BandSound(
        mix_once=mix,
        once=_stems(laid, plan, width, curve, mix) if laid else {},
        plan=plan,
        steps=tuple(
            _step_band(file, step_plan, width)
            for file, step_plan in zip(together.steps, _step_plans(plan), strict=False)
        )
        or (StepBand(sound, plan, width),),
        gain=gain,
        notices=notices,
        bank=bank,
    )


def _step_band(passage: LaidFile, plan: FilePlan, width: float) -> StepBand:
    return StepBand(heard(passage, plan, width=width), plan, width)


def _stems(
    files: Mapping[str, LaidFile],
    plan: FilePlan,
    width: float,
    curve: Sound,
    mix: Samples,
) -> dict[str, Samples]:
    """Each part as whole numbers; the last one is what the others leave of the mix."""
    import numpy as np

    *names, last = files
    once = {}
    rest = mix.astype(np.int32)
    for name in names:
        once[name] = integers(heard(files[name], plan, width=width), curve)
        rest -= once[name]
    return once | {last: np.clip(rest, -_FULL_SCALE - 1, _FULL_SCALE).astype(np.int16)}


def _width(body: Sound) -> float:
    """What the side of the walls is multiplied by so that left and right agree as they should."""
    import numpy as np

    stretches = (body[:, n : n + _AT_ONCE] for n in range(0, body.shape[1], _AT_ONCE))
    powers = sum(np.einsum("if,jf->ij", part, part) for part in stretches) + np.zeros((3, 3))
    middle, walls = powers[0, 0], powers[2, 2]
    if not middle or not walls:
        return 1.0
    side = powers[1:, 1:].sum()
    agreed = min(max((middle - side) / (middle + side), WIDTHS[0]), WIDTHS[1])
    wanted = middle * (1.0 - agreed) / (1.0 + agreed)
    half = powers[1, 2] / walls  # wanted = dry + 2 w across + w² walls
    room = half**2 + (wanted - powers[1, 1]) / walls
    return float(np.clip(np.sqrt(max(room, 0.0)) - half, 0.0, _WIDEST))


def _at_width(lanes: Sound, width: float) -> Sound:
    """Middle and side, with the walls as wide as they are to be heard."""
    sound = lanes[:2]
    sound[1] += lanes[2] * width
    return sound


def _loudness_gain(sound: Sound, plan: FilePlan) -> float:
    """What brings the file of a mix, its block repeated, to `TARGET_LUFS`."""
    import numpy as np

    first, end = plan.count_in_frames, plan.count_in_frames + plan.block_frames
    blocks, rest = divmod(plan.choruses, plan.block)
    before, body, after = np.split(sound, [first, end], axis=1)
    block = step_powers(body)[: max(1, plan.block_frames // STEP)]  # a last one is not whole
    part = block[: plan.starts[rest] // STEP]
    powers = [step_powers(before), *[block] * blocks, part, step_powers(after)]
    measured = lufs_of(2.0 * np.concatenate(powers))
    return 1.0 if measured == float("-inf") else float(10.0 ** ((TARGET_LUFS - measured) / 20.0))


def _sides(sound: Sound) -> Sound:
    """Left and right of middle and side."""
    import numpy as np

    return np.stack([sound[0] + sound[1], sound[0] - sound[1]])


def _gain_curve(sound: Sound, plan: FilePlan) -> tuple[float, Sound]:
    """The gain that brings a mix to its loudness, and that of each frame under the ceiling.

    The second is one for all frames, unless a peak would come too high. What is then lost
    around peaks is made up for once by all frames.
    """
    import numpy as np

    gain = _loudness_gain(sound, plan)
    lowered = _lowered(sound, plan, gain)
    if lowered is None:
        return gain, np.full(1, gain, np.float32)
    gain *= _loudness_gain(sound * (lowered * np.float32(gain)), plan)
    again = _lowered(sound, plan, gain)
    return gain, np.float32(gain) * (lowered if again is None else again)


def _lowered(sound: Sound, plan: FilePlan, gain: float) -> Sound | None:
    """What each frame is multiplied by to stay under the ceiling; None where nothing must be.

    Where one stretch follows another in several ways, as the block follows both the count-in
    and itself, it is the same on all of them, so that none of the ways has a step.
    """
    import numpy as np

    ceiling = 10.0 ** (CEILING_DBTP / 20.0)
    needed = needed_gain(_sides(sound), ceiling / gain)
    if needed is None:
        return None
    first, end = plan.count_in_frames, plan.count_in_frames + plan.block_frames
    before, body, after = np.split(needed, [first, end])
    return np.concatenate(_joined_gains(before, body, after, plan))


def _joined_gains(before: Sound, body: Sound, after: Sound, plan: FilePlan) -> tuple[Sound, ...]:
    import numpy as np

    near = min(4 * SMOOTH, len(before), plan.block_frames, len(after))
    last = plan.starts[plan.last]
    behind = np.arange(last, last + near) % len(body)
    follow = np.minimum.reduce([body[:near], after[:near], body[behind]])
    body[:near], body[behind], after[:near] = follow, follow, follow
    lead = np.minimum(before[len(before) - near :], body[len(body) - near :])
    before[len(before) - near :], body[len(body) - near :] = lead, lead
    ahead = body[np.arange(last - near, last) % len(body)]
    return (
        smoothed(np.concatenate([before, follow]))[: len(before)],
        smoothed(np.concatenate([lead, body, follow]))[near : near + len(body)],
        smoothed(np.concatenate([ahead, after]))[near:],
    )


def integers(sound: Sound, curve: Sound) -> Samples:
    """Whole numbers, shape (frames, 2), of middle and side."""
    import numpy as np

    frames = sound.shape[-1]
    samples = np.empty((frames, 2), np.int16)
    scales = np.broadcast_to(curve, frames)
    for start in range(0, frames, _AT_ONCE):
        stretch = slice(start, start + _AT_ONCE)
        sides = _sides(sound[:, stretch])
        sides *= scales[stretch] * np.float32(_FULL_SCALE)
        np.rint(sides, out=sides)
        samples[stretch, 0], samples[stretch, 1] = sides
    return samples


def with_line(
    band: BandSound, line: PlayedPart, *, ending: bool = False, alone: bool = False
) -> LineSound:
    """A player's line over one chorus of the band, in the sound of its instrument.

    Parameters
    ----------
    band : BandSound
    line : PlayedPart
        Concert pitch, one chorus from beat 0; notes before beat 0 are a pickup, played
        in the count-in, those behind the chorus are played in the band's ending.
    ending : bool
        The band's ending is played.
    alone : bool
        The line by itself, too.
    """
    import numpy as np

    step = band.steps[0 if ending else -1]
    sound = _line_heard(line, step, band.bank)
    mix = step.sound + sound
    samples = integers(mix, _gain_curve(mix, step.plan)[1])
    by_itself = integers(sound, np.full(1, band.gain, np.float32)) if alone else None
    return LineSound(
        _tiled(samples, step.plan),
        None if by_itself is None else _tiled(by_itself, step.plan),
        _loop(step.plan),
        _notices([line], band.bank),
    )


def _line_heard(line: PlayedPart, step: StepBand, bank: Path) -> Sound:
    """A line in the room at its level."""
    plan = step.plan
    end = plan.beats
    notes = PartNotes(
        replace(line, notes=tuple(note for note in line.notes if 0 <= note.onset < end)),
        tuple(note for note in line.notes if note.onset < 0),
        tuple(note for note in line.notes if note.onset >= end),
    )
    layout = PartLayout(notes, plan, bank)
    block = layout.block()
    body = folded(block, plan.block_frames)
    gain = part_gain("line", body)
    passage = _passage("line", gain, layout.before(), body, layout.after(block))
    return heard(passage, plan, width=step.width)


def _notices(parts: Sequence[PlayedPart], bank: Path) -> tuple[str, ...]:
    notices = (
        sampler_of(bank).bank.preset(part.program, percussion=part.percussion)[1] for part in parts
    )
    return tuple(filter(None, notices))
