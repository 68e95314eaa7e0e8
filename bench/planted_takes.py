"""Takes with planted faults, for `feedback.py`: what was done wrong in each is known.

A student plays a step or a chorus of the program's own writing over the program's own backing.
He plays as players do (late on the beat where eighths swing, off-beats at .62, onsets spread
by some milliseconds), and then one thing, or two, is done wrong on purpose. The sound is that
of a bank which neither training nor any threshold has met; its own mistuning is taken out by
the sampler, which measures each of its recordings.
"""

from __future__ import annotations

import wave
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from takes import RATE, Take, in_room, sampler, with_noise

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
    """What is to be found: a kind, and where, in quarter notes from bar 1; None for anywhere."""

    kind: str
    at: float | None = None
    within: float = 1.1


@dataclass(frozen=True, slots=True)
class Tone:
    """A note that is played: quarter notes from bar 1, what it is late by, and its pitch."""

    place: Fraction
    beats: float
    midi: int
    late_s: float = 0.0
    cents: float = 0.0


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
    """What is played: tones, how the beat is bent, and what was planted."""

    session: Session
    tones: tuple[Tone, ...]
    planted: tuple[Planted, ...] = ()
    half: float = 0.62
    lag: float = 0.1
    spread_s: float = 0.008
    faster: float = 0.0
    gain: float = 1.0
    rate: float = 1.0
    with_line: bool = True

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
    tones = tuple(
        Tone(turn * form + note.onset, float(note.beats), note.pitch.midi)
        for turn in range(sitting.passes)
        for note in sitting.line
        if note.pitch is not None
    )
    if not sitting.swings:
        return Playing(sitting, tones, half=0.5, lag=0.0, with_line=with_line)
    return Playing(sitting, tones, with_line=with_line)


# --- what is done wrong ------------------------------------------------------------------

Plant = Callable[[Playing, Random], Playing | None]
"""Does something wrong; None where the line gives no chance to."""


def _inner(play: Playing, rng: Random) -> int | None:
    """A note whose neighbours have other pitches, away from what was planted already."""
    taken = [mark.at for mark in play.planted if mark.at is not None]
    tones = play.tones
    places = [
        place
        for place in range(2, len(tones) - 2)
        if tones[place].midi not in {tones[place - 1].midi, tones[place + 1].midi}
        and all(abs(float(tones[place].place) - at) > 4 for at in taken)
    ]
    return rng.choice(places) if places else None


def missed(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tones = (*play.tones[:place], *play.tones[place + 1 :])
    return play.and_planted(Planted("missed", float(play.tones[place].place)), tones=tones)


def changed(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone = play.tones[place]
    around = {play.tones[place - 1].midi, play.tones[place + 1].midi}
    midi = rng.choice([tone.midi + n for n in (-2, -1, 1, 2) if tone.midi + n not in around])
    tones = (*play.tones[:place], replace(tone, midi=midi), *play.tones[place + 1 :])
    return play.and_planted(Planted("changed", float(tone.place)), tones=tones)


def added(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone, after = play.tones[place], play.tones[place + 1]
    gap = float(after.place - tone.place)
    if gap * play.session.quarter_s < 0.24:
        return None
    middle = tone.place + (after.place - tone.place) / 2
    away = {(tone.midi) % 12, after.midi % 12}
    midi = next(tone.midi + n for n in (3, 4, -3, -4, 5) if (tone.midi + n) % 12 not in away)
    extra = Tone(middle, gap / 2, midi)
    tones = (*play.tones[:place], replace(tone, beats=gap / 2), extra, *play.tones[place + 1 :])
    return play.and_planted(Planted("added", float(middle)), tones=tones)


def late_note(play: Playing, rng: Random) -> Playing | None:
    place = _inner(play, rng)
    if place is None:
        return None
    tone = play.tones[place]
    gap = float(play.tones[place + 1].place - tone.place) * play.session.quarter_s
    if gap < 0.22:
        return None
    late_s = max(0.1, 0.15 * play.session.quarter_s)
    tones = (*play.tones[:place], replace(tone, late_s=late_s), *play.tones[place + 1 :])
    return play.and_planted(Planted("late-note", float(tone.place)), tones=tones)


def _moved(play: Playing, rises: Sequence[int], kind: str) -> Playing | None:
    """All of it some semitones off, as far as the instrument goes."""
    player = INSTRUMENTS[play.session.instrument]
    compass = player.compass(Level.ADVANCED)
    low, high = player.concert(compass.low).midi, player.concert(compass.high).midi
    midis = [tone.midi for tone in play.tones]
    fits = [rise for rise in rises if low <= min(midis) + rise and max(midis) + rise <= high]
    if not fits:
        return None
    tones = tuple(replace(tone, midi=tone.midi + fits[0]) for tone in play.tones)
    return play.and_planted(Planted(kind), tones=tones)


def octave(play: Playing, rng: Random) -> Playing | None:
    return _moved(play, rng.sample([-12, 12], 2), "octave")


def transposition(play: Playing, rng: Random) -> Playing | None:
    return _moved(play, rng.sample([-2, 2, 3, -3, 5], 5), "transposition")


def form_slip(play: Playing, rng: Random) -> Playing | None:
    bar = float(play.session.analysis.chart.meter.bar_beats)
    late = rng.choice([-1, 1, 2]) * bar
    starts = play.session.form.bar_starts
    at = starts[rng.randrange(2, max(3, len(starts) - 4))]
    kept = [tone for tone in play.tones if float(tone.place) < at + min(late, 0)]
    slipped = [
        replace(tone, place=tone.place + Fraction(late))
        for tone in play.tones
        if float(tone.place) >= at
    ]
    end = play.session.passes * play.session.form.beats
    slipped = [tone for tone in slipped if float(tone.place) < end]
    return play.and_planted(
        Planted("form-slip", at + late, within=2 * bar), tones=(*kept, *slipped)
    )


def offset(play: Playing, rng: Random) -> Playing:
    late_s = rng.choice([-0.08, 0.08, 0.12])
    tones = tuple(replace(tone, late_s=tone.late_s + late_s) for tone in play.tones)
    return play.and_planted(Planted("offset"), tones=tones)


def uneven(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("uneven"), spread_s=0.05)


def rushing(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("rushing"), faster=0.025)


def dragging(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("dragging"), faster=-0.025)


def _pairs(play: Playing) -> int:
    return sum(tone.place.denominator == 2 for tone in play.tones)


def straight(play: Playing, _: Random) -> Playing | None:
    if not play.session.swings or _pairs(play) < 20 or play.session.quarter_s < 60 / 150:
        return None
    return play.and_planted(Planted("straight"), half=0.5, lag=0.0)


def swung(play: Playing, _: Random) -> Playing | None:
    if play.session.swings or _pairs(play) < 20:
        return None
    return play.and_planted(Planted("swung"), half=0.66)


def out_of_tune(play: Playing, rng: Random) -> Playing | None:
    counts = [tone.midi for tone in play.tones if tone.beats * play.session.quarter_s > 0.2]
    often = sorted({midi for midi in counts if counts.count(midi) >= 4})
    if not often:
        return None
    midi, cents = rng.choice(often), rng.choice([-30.0, 30.0])
    tones = tuple(replace(t, cents=cents) if t.midi == midi else t for t in play.tones)
    kind = "sharp" if cents > 0 else "flat"
    return play.and_planted(Planted(kind), tones=tones)


def _tells(play: Playing) -> list[int]:
    """Chords of a bar or more into which something changes, on both sides of whose bar
    line the line has notes.
    """
    chords = play.session.analysis.chords
    return [
        number
        for number in range(1, len(chords))
        if chords[number].span.beats >= 4
        and (change := play.session.analysis.changing_into(number)) is not None
        and change.half_steps
    ]


def _over(play: Playing, number: int) -> list[int]:
    """The tones that are played over a chord in the first pass."""
    span = play.session.analysis.chords[number].span
    return [n for n, tone in enumerate(play.tones) if span.start <= tone.place < span.end]


def change_missed(play: Playing, rng: Random) -> Playing | None:
    """All over one chord is played from the scale of the one before."""
    numbers = [number for number in _tells(play) if len(_over(play, number)) >= 6]
    if not numbers:
        return None
    number = rng.choice(numbers)
    chords = play.session.analysis.chords
    old, new = chords[number - 1].scale.pitch_classes, chords[number].scale.pitch_classes
    tones = list(play.tones)
    for place in _over(play, number):
        tone = tones[place]
        if tone.midi % 12 not in old:
            near = min(
                (n for n in range(-2, 3) if (tone.midi + n) % 12 in old - new),
                key=abs,
                default=None,
            )
            near = (
                near
                if near is not None
                else next(n for n in (-1, 1, -2, 2) if (tone.midi + n) % 12 in old)
            )
            tones[place] = replace(tone, midi=tone.midi + near)
    at = float(chords[number].span.start)
    return play.and_planted(Planted("change-missed", at), tones=tuple(tones))


def old_note_kept(play: Playing, rng: Random) -> Playing | None:
    """One note on a beat over a chord is the old chord's, where its letter has changed."""
    offers = []
    for number in _tells(play):
        change = play.session.analysis.changing_into(number)
        assert change is not None
        moved = {motion.new.pitch_class: motion.semitones for motion in change.half_steps}
        offers += [
            (place, moved[play.tones[place].midi % 12])
            for place in _over(play, number)
            if play.tones[place].midi % 12 in moved and play.tones[place].beats >= 0.9
        ]
    if not offers:
        return None
    place, rise = rng.choice(offers)
    tone = play.tones[place]
    tones = (*play.tones[:place], replace(tone, midi=tone.midi - rise), *play.tones[place + 1 :])
    return play.and_planted(Planted("old-note-kept", float(tone.place)), tones=tones)


def clipped(play: Playing, _: Random) -> Playing:
    return play.and_planted(Planted("not-judged"), gain=30.0)


PLANTS: dict[str, Plant] = {
    "missed": missed, "added": added, "changed": changed, "late-note": late_note,
    "octave": octave, "transposition": transposition, "form-slip": form_slip,
    "offset": offset, "uneven": uneven, "rushing": rushing, "dragging": dragging,
    "straight": straight, "swung": swung, "out of tune": out_of_tune,
    "change-missed": change_missed, "old-note-kept": old_note_kept, "clipped": clipped,
}  # fmt: skip
"""All that can be done wrong, by name."""
IMPROVISED = {"change-missed", "old-note-kept"}
"""What is planted into takes that are held against no line."""


# --- how it sounds -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Condition:
    """What lies around the playing."""

    name: str
    noise_db: float | None = None
    room_s: float | None = None
    bleed_db: float | None = None


CLEAN = Condition("clean", bleed_db=-40.0)
CONDITIONS = (
    CLEAN,
    Condition("noise", noise_db=25.0, bleed_db=-40.0),
    Condition("room", room_s=0.6, bleed_db=-40.0),
    Condition("bleed", bleed_db=-15.0),
    Condition("all three", noise_db=30.0, room_s=0.4, bleed_db=-18.0),
)
"""A backing is heard in all of them, however faintly: it says where the beat is."""


@dataclass(slots=True)
class Studio:
    """Where takes are recorded: the sound bank, and a folder for files."""

    bank: Path
    folder: Path
    backings: dict[str, Path] = field(default_factory=dict)

    def backing(self, chart: str) -> Path:
        """The file of the backing of a chart, made once."""
        if chart not in self.backings:
            folder = self.folder / f"backing-{len(self.backings)}"
            make_backing(MakeBacking(chart, folder, choruses=2, sound_format="wav"))
            self.backings[chart] = next(folder.glob("*.wav"))
        return self.backings[chart]

    def record(self, play: Playing, condition: Condition, number: int) -> Path:
        """A take as a file; the device is late by up to 300 ms."""
        backing = self.backing(play.session.chart)
        recording = Recording(backing)
        under = np.concatenate(list(recording.blocks()))
        delay_s = float(np.random.default_rng(number).uniform(0, 0.3))
        count_in_s = _count_in_s(backing)
        length = len(under) / HEARD_RATE + delay_s + 0.5
        sound = self._played(play, count_in_s + delay_s, length, number)
        take = Take("", "", sound, ())
        if condition.room_s is not None:
            take = in_room(take, condition.room_s, 6.0, number)
        if condition.noise_db is not None:
            take = with_noise(take, condition.noise_db, number)
        sound = take.sound
        if condition.bleed_db is not None:
            sound = sound + _under(under, HEARD_RATE, delay_s, len(sound)) * (
                10 ** (condition.bleed_db / 20) * _rms(sound) / _rms(under)
            )
        return _stored(sound * play.gain, self.folder / f"take-{number}.wav")

    def _played(self, play: Playing, start_s: float, length_s: float, number: int) -> Sound:
        rng = np.random.default_rng(number)
        sound = np.zeros(round(length_s * RATE))
        program = INSTRUMENTS[play.session.instrument].program
        last = float(play.tones[-1].place)
        onsets = [
            start_s + _place_s(play, tone.place, last) + tone.late_s + rng.normal(0, play.spread_s)
            for tone in play.tones
        ]
        for n, (tone, onset) in enumerate(zip(play.tones, onsets, strict=True)):
            following = onsets[n + 1] if n + 1 < len(onsets) else length_s
            held = min(tone.beats * play.session.quarter_s * 0.92, following - onset - 0.012)
            if held < 0.03:
                continue
            note = self._note(program, tone, held, int(rng.integers(70, 110)))
            begin = max(0, round(onset * RATE))
            piece = note[: max(0, min(len(note), round((held + 0.03) * RATE)))].copy()
            fade = min(len(piece), round(0.03 * RATE))
            piece[len(piece) - fade :] *= np.linspace(1, 0, fade)
            piece = piece[: len(sound) - begin]
            sound[begin : begin + len(piece)] += piece
        peak: float = np.abs(sound).max() or 1.0
        return sound / peak * 0.5

    def _note(self, program: int, tone: Tone, held_s: float, velocity: int) -> Sound:
        sound = _bank_note(
            self.bank, program, tone.midi, round(held_s, 2) + 0.1, velocity // 10 * 10
        )
        if not tone.cents:
            return sound
        places = np.arange(0, len(sound) - 1, 2 ** (tone.cents / 1200))
        return np.interp(places, np.arange(len(sound)), sound)


@cache
def _bank_note(bank: Path, program: int, midi: int, held_s: float, velocity: int) -> Sound:
    player = sampler(bank)
    preset, _ = player.bank.preset(program)
    return player.note(preset, midi, velocity, held_s, rings=False).mean(axis=1)


def _place_s(play: Playing, place: Fraction, last: float) -> float:
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


def kinds_of(marks: Sequence[Planted]) -> set[str]:
    """The kinds that were planted."""
    return {mark.kind for mark in marks}
