"""Takes of which every note is known, for `feedback.py`; `planted_faults.py` says what is wrong.

A student plays a step or a chorus of the program's own writing over the program's own backing.
He plays as players do where eighths swing: a tenth of a beat late on the beat, the next eighth
at .56 of the way to the next one (ratios of 1.3, as soloists play), onsets spread by some
milliseconds. The sound is that of a bank which neither training nor any threshold has
met; its own mistuning is taken out by the sampler, which measures each of its recordings.
"""

from __future__ import annotations

import wave
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from takes import RATE, Take, in_room, rise_s, sampler, with_noise

from halfstep.etude.etude_notes import EtudeNote
from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.listen.audio import Recording
from halfstep.listen.spectra import RATE as HEARD_RATE
from halfstep.meter import Feel
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.make_backing import MakeBacking, make_backing
from halfstep.services.write_etude import WriteEtude, write_one_etude

CHARTS = (
    "key: F\ntempo: 112\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |",
    "key: Bb\ntempo: 132\n| Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | Dm7b5 G7b9 "
    "| Cm7 | F7 | Bb7 G7 | Cm7 F7 |",
    "key: Cm\ntempo: 96\nfeel: straight\n| Cm6 | Fm7 | Dm7b5 G7b9 | Cm6 | Abmaj7 | Dbmaj7#11 "
    "| G7alt | Cm6 |",
    "key: G\ntempo: 160\n| Gmaj7 | Am7 D7 | Bm7 E7 | Am7 D7 | Cmaj7 | F7 | Bm7 Bbdim7 | Am7 D7 |",
)
"""Progressions made up for this bench."""
PLAYERS = ("alto-sax", "tenor-sax", "clarinet", "trumpet", "trombone")

Sound = Any


@dataclass(frozen=True, slots=True)
class Planted:
    """What is to be found: a kind, and where, in quarter notes from bar 1; None for anywhere.

    ``label`` names it where several are of one kind; what is no ``fault`` is to be told as
    craft; ``sign`` is that of the beats by which a change is heard late.
    """

    kind: str
    at: float | None = None
    within: float = 1.1
    label: str = ""
    fault: bool = True
    sign: int = 0

    @property
    def name(self) -> str:
        return self.label or self.kind


@dataclass(frozen=True, slots=True)
class Tone:
    """A note that is played: quarter notes from bar 1, what it is late by, and its pitch.

    ``written`` is its place among the sounding notes of the line; None for one that is no part
    of it.
    """

    place: Fraction
    beats: float
    midi: int
    late_s: float = 0.0
    cents: float = 0.0
    written: int | None = None

    @property
    def end(self) -> float:
        return float(self.place) + self.beats


@dataclass(frozen=True, slots=True)
class Session:
    """What a student sits down to.

    ``line`` is the written line; ``reply`` has it as a file for who is to play what is written.
    """

    chart: str
    reply: EtudeReply
    passes: int

    @property
    def analysis(self) -> Analysis:
        return self.reply.etude.analysis

    @property
    def form(self) -> FormPlaces:
        return form_places(self.analysis)

    @property
    def instrument(self) -> str:
        return self.reply.part.instrument.key

    @property
    def line(self) -> tuple[EtudeNote, ...]:
        return self.reply.etude.notes

    @property
    def quarter_s(self) -> float:
        return 60.0 / float(self.analysis.chart.tempo_bpm or 120.0)

    @property
    def swings(self) -> bool:
        return self.analysis.chart.feel is not Feel.STRAIGHT


@dataclass(frozen=True, slots=True)
class Playing:
    """What is played: tones, how the beat is bent, and what was planted.

    ``rate`` is how much faster the recording runs than what was played, pitch and all;
    ``second`` tones sound besides; ``backing_db`` is how loud the backing is, where it is not
    as the condition has it; ``chart`` is what the take is said to be over, where that is wrong;
    ``entries`` are the tones at which the player is somewhere else in the line.
    """

    session: Session
    tones: tuple[Tone, ...]
    planted: tuple[Planted, ...] = ()
    half: float = 0.66
    lag: float = 0.1
    spread_s: float = 0.008
    faster: float = 0.0
    gain: float = 1.0
    rate: float = 1.0
    with_line: bool = True
    second: tuple[Tone, ...] = ()
    backing_db: float | None = None
    chart: str = ""
    entries: tuple[int, ...] = ()

    def and_planted(self, *planted: Planted, **changed: Any) -> Playing:
        return replace(self, planted=(*self.planted, *planted), **changed)


def session(step: str, number: int) -> Session:
    """A student with a step, the same for a number."""
    rng = Random(number)
    chart = CHARTS[number % len(CHARTS)]
    player = rng.choice(PLAYERS)
    level = rng.choice([Level.INTERMEDIATE, Level.ADVANCED])
    reply = write_one_etude(
        WriteEtude(chart, step, instrument=player, level=str(level), seed=number, ending=False)
    )
    return Session(chart, reply, 2)


def playing(sitting: Session, *, with_line: bool = True) -> Playing:
    """The line as it is written, as often as it is played."""
    form = Fraction(sitting.analysis.chart.beats)
    sounding = [(note, note.pitch) for note in sitting.line if note.pitch is not None]
    tones = tuple(
        Tone(turn * form + note.onset, float(note.beats), pitch.midi, written=place)
        for turn in range(sitting.passes)
        for place, (note, pitch) in enumerate(sounding)
    )
    if not sitting.swings:
        return Playing(sitting, tones, half=0.5, lag=0.0, with_line=with_line)
    return Playing(sitting, tones, with_line=with_line)


# --- how it sounds -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Condition:
    """What lies around the playing; with headphones no backing is in the take."""

    name: str
    noise_db: float | None = None
    room_s: float | None = None
    bleed_db: float | None = None

    @property
    def headphones(self) -> bool:
        return self.bleed_db is None


CLEAN = Condition("clean", bleed_db=-40.0)
CONDITIONS = (
    CLEAN,
    Condition("noise", noise_db=25.0, bleed_db=-40.0),
    Condition("room", room_s=0.6, bleed_db=-40.0),
    Condition("bleed", bleed_db=-15.0),
    Condition("all three", noise_db=30.0, room_s=0.4, bleed_db=-18.0),
    Condition("headphones", room_s=0.2),
)
"""A backing is heard in all but the last, however faintly: it says where the beat is."""


@dataclass(slots=True)
class Studio:
    """Where takes are recorded: the sound bank, and a folder for files."""

    bank: Path
    folder: Path
    backings: dict[str, Path] = field(default_factory=dict)
    choruses: int = 2

    def backing(self, chart: str) -> Path:
        """The file of the backing of a chart, made once."""
        if chart not in self.backings:
            folder = self.folder / f"backing-{len(self.backings)}"
            make_backing(MakeBacking(chart, folder, choruses=self.choruses, sound_format="wav"))
            self.backings[chart] = next(folder.glob("*.wav"))
        return self.backings[chart]

    def record(self, play: Playing, condition: Condition, number: int) -> Path:
        """A take as a file; the device is late by up to 300 ms."""
        under = np.concatenate(list(Recording(self.backing(play.session.chart)).blocks()))
        start_s, delay_s = self.start_s(play, number), _delay_s(number)
        length = len(under) / HEARD_RATE + delay_s + 0.5
        sound = self._played(play, play.tones, start_s, length, number)
        if play.second:
            sound = sound + self._played(play, play.second, start_s, length, number + 1)
        take = Take("", "", sound, ())
        if condition.room_s is not None:
            take = in_room(take, condition.room_s, 6.0, number)
        if condition.noise_db is not None:
            take = with_noise(take, condition.noise_db, number)
        sound = take.sound
        bleed_db = condition.bleed_db if play.backing_db is None else play.backing_db
        if bleed_db is not None:
            sound = sound + _under(under, HEARD_RATE, delay_s, len(sound)) * (
                10 ** (bleed_db / 20) * _rms(sound) / _rms(under)
            )
        sound = _faster(sound, play.rate) * play.gain
        return _stored(sound, self.folder / f"take-{number}.wav")

    def start_s(self, play: Playing, number: int) -> float:
        """Where bar 1 begins in a take."""
        return _count_in_s(self.backing(play.session.chart)) + _delay_s(number)

    def onsets_s(self, play: Playing, number: int) -> list[float]:
        """When each tone begins in a take."""
        rng, start_s = np.random.default_rng(number), self.start_s(play, number)
        return _onsets_s(play, play.tones, start_s, rng)

    def _played(
        self, play: Playing, tones: Sequence[Tone], start_s: float, length_s: float, number: int
    ) -> Sound:
        rng = np.random.default_rng(number)
        sound = np.zeros(round(length_s * RATE))
        program = INSTRUMENTS[play.session.instrument].program
        onsets = _onsets_s(play, tones, start_s, rng)
        for n, (tone, onset) in enumerate(zip(tones, onsets, strict=True)):
            following = onsets[n + 1] if n + 1 < len(onsets) else length_s
            held = min(tone.beats * play.session.quarter_s * 0.92, following - onset - 0.012)
            velocity = int(rng.integers(70, 110))
            if held < 0.03:
                continue
            note = self._note(program, tone, held, velocity)
            rise = rise_s(self.bank, program, tone.midi)
            begin = max(0, round((onset - rise) * RATE))
            piece = note[: max(0, min(len(note), round((held + rise + 0.03) * RATE)))].copy()
            fade = min(len(piece), round(0.03 * RATE))
            piece[len(piece) - fade :] *= np.linspace(1, 0, fade)
            piece = piece[: max(0, len(sound) - begin)]
            sound[begin : begin + len(piece)] += piece
        peak: float = np.abs(sound).max() or 1.0
        return sound / peak * 0.5

    def _note(self, program: int, tone: Tone, held_s: float, velocity: int) -> Sound:
        """A note in tune with all others, but for what it is meant to be out of tune."""
        sound = _bank_note(self.bank, program, tone.midi, round(held_s, 2) + 0.1, velocity)
        cents = tone.cents - _mistuning(self.bank, program, tone.midi)
        return _faster(sound, 2 ** (cents / 1200))


def _bank_note(bank: Path, program: int, midi: int, held_s: float, velocity: int) -> Sound:
    return _bank_note_of(bank, program, midi, held_s, velocity // 10 * 10)


@cache
def _bank_note_of(bank: Path, program: int, midi: int, held_s: float, velocity: int) -> Sound:
    player = sampler(bank)
    preset, _ = player.bank.preset(program)
    return player.note(preset, midi, velocity, held_s, rings=False).mean(axis=1)


@cache
def _mistuning(bank: Path, program: int, midi: int) -> float:
    """How many cents too high a note of the bank is in its first quarter second.

    The pitch at which its partials, up to the sixth, are loudest together.
    """
    sound = _bank_note(bank, program, midi, 0.4, 90)
    part = sound[round(0.06 * RATE) : round(0.3 * RATE)]
    size = 1 << 18
    levels = np.log(np.abs(np.fft.rfft(part * np.hanning(len(part)), size)) + 1e-9)
    off = np.arange(-60.0, 60.5, 0.5)
    hertz = 440 * 2 ** ((midi - 69 + off / 100) / 12)
    bins = np.arange(len(levels))
    sums = [np.interp(hertz * partial * size / RATE, bins, levels) for partial in range(1, 7)]
    return float(off[np.sum(sums, axis=0).argmax()])


def _delay_s(number: int) -> float:
    return float(np.random.default_rng(10_000_000 + number).uniform(0, 0.3))


NEAREST = 0.35
"""No note is played farther from its place, as a share of the way to the next one."""


def _onsets_s(
    play: Playing, tones: Sequence[Tone], start_s: float, rng: np.random.Generator
) -> list[float]:
    last = max((float(tone.place) for tone in play.tones), default=1.0)
    places = np.array([place_s(play, tone.place, last) for tone in tones])
    gaps = np.abs(np.diff(places, prepend=-9.0, append=places[-1:] + 9.0))
    most = NEAREST * np.minimum(gaps[:-1], gaps[1:])
    spreads = np.clip(rng.normal(0, play.spread_s, len(tones)), -most, most)
    lates = np.array([tone.late_s for tone in tones])
    onsets: list[float] = (start_s + places + lates + spreads).tolist()
    return onsets


def place_s(play: Playing, place: Fraction, last: float) -> float:
    """When a place is played, in seconds from bar 1."""
    whole, part = divmod(place, 1)
    beats = float(place)
    if part.denominator <= 2:
        beats = float(whole) + (play.half if part else play.lag)
    elif part.denominator == 4:
        first, length = (0.0, play.half) if part < 0.5 else (play.half, 1 - play.half)
        beats = float(whole) + first + float(part) % 0.5 * 2 * length
    beats -= play.faster * beats**2 / (2 * last)
    return beats * play.session.quarter_s


def _faster(sound: Sound, rate: float) -> Sound:
    if rate == 1:
        return sound
    return np.interp(np.arange(0, len(sound) - 1, rate), np.arange(len(sound)), sound)


def _count_in_s(backing: Path) -> float:
    from halfstep.render.sound_facts import loop_start_s

    return loop_start_s(backing) or 0.0


def _under(sound: Sound, rate: int, delay_s: float, frames: int) -> Sound:
    laid = np.zeros(frames)
    at = np.arange(frames) / RATE - delay_s
    inside = (at >= 0) & (at * rate < len(sound) - 1)
    laid[inside] = np.interp(at[inside] * rate, np.arange(len(sound)), sound)
    return laid


def _rms(sound: Sound) -> float:
    return float(np.sqrt(np.mean(np.square(sound)))) or 1.0


def _stored(sound: Sound, path: Path) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.clip(sound * 32767, -32768, 32767).astype("<i2").tobytes())
    return path
