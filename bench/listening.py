"""How well are notes heard, and by whom best?

Run ``python bench/listening.py [--banks FILE ..] [--lines N] [--seed N] [--quick]
[--only NAME ..] [--jobs N] [--picture FILE.svg] [--errors FOLDER]``. One run makes the lines
of `takes.py` from seeds, has each listener hear each of them, and prints the tables. Listeners
are ours and the general trackers that are there: SwiftF0 (swift-f0, MIT) and pYIN (librosa,
ISC), whose pitch is cut into notes here, and basic-pitch (Apache-2.0), which finds its own.
"Ours, known" is told which backing was played to; everyone else hears blindly.

A note is right when it begins within 50 ms and lies within 50 cents of a true one, whenever
it ends: F1 of `mir_eval.transcription` (MIT). Nobody is told the compass of the instrument.
Figures of a group are pooled over its notes. CPU is the time of all threads, for a second
of sound, with reading the file.

The trackers are treated well: their settings, the cutting into notes, and a constant by
which each one's onsets are moved were chosen for them on lines of the seeds 0 to 9.
"""

from __future__ import annotations

import os

os.environ |= {f"{library}_NUM_THREADS": "1" for library in ("OPENBLAS", "OMP", "MKL", "NUMBA")}

import argparse
import io
import logging
import tempfile
import warnings
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass, field
from functools import cache, lru_cache, partial
from importlib.util import find_spec
from multiprocessing import get_context
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import numpy as np
import takes

from halfstep.listen.transcription import hear
from halfstep.render.known_banks import find_bank

SEEN = """\
FluidR3_GM, TimGM6mb and sf_GMbank with seeds 0-9 were looked at while the decoder was made,
and a table of the seeds 100 and 101; seeds from 200 on and any other bank were not.
Banks share recordings: MuseScore_General has all of these instruments from FluidR3_GM;
sf_GMbank has tenor saxophone, trombone, clarinet and guitar in common with TimGM6mb."""
FIRST_SEED = 200
KNOWN = "ours, known"
OURS = ("ours", KNOWN)
HOP_S = 0.01
LEAST, APART, STAYS, RISE_DB = 6, 5, 4, 3.0
"""Frames of the shortest note, between a beginning and a rise, and of a new pitch; chosen
for the trackers as SHIFT_S is."""

Answer = tuple[float, float, float]
"""Onset and offset in seconds, and pitch as a MIDI number with a fraction."""


# --- the trackers ------------------------------------------------------------------------


def by_us(path: Path, backing: Path | None = None) -> tuple[list[Answer], float | None]:
    take = hear(path, backing=backing)
    notes = [(n.onset_s, n.offset_s, n.pitch_midi) for n in take.notes]
    return notes, take.delay_s


def by_swift(path: Path) -> list[Answer]:
    sound, rate = _read(path)
    frames = _swift().detect(sound, rate)
    pitch = _midi(frames.pitch_hz)
    pitch[frames.confidence < 0.5] = np.nan
    return cut(frames.timestamps, pitch, sound, rate, shift_s=SHIFT_S["SwiftF0"])


@cache
def _swift() -> Any:
    import swift_f0

    return swift_f0.SwiftF0(threads=1)


def by_pyin(path: Path) -> list[Answer]:
    import librosa

    sound, rate = _read(path)
    sound = librosa.resample(sound, orig_sr=rate, target_sr=16_000)
    hertz, _, _ = librosa.pyin(
        sound, fmin=65.4, fmax=2093, sr=16_000, frame_length=1024, hop_length=160, resolution=0.2
    )
    times = np.arange(len(hertz)) * HOP_S
    return cut(times, _midi(hertz), sound, 16_000, shift_s=SHIFT_S["pYIN"])


def by_basic_pitch(path: Path) -> list[Answer]:
    from basic_pitch.inference import predict

    with redirect_stdout(io.StringIO()):
        _, _, events = predict(path, _basic_pitch(), minimum_note_length=60, frame_threshold=0.5)
    shift_s = SHIFT_S["basic-pitch"]
    return sorted((e[0] + shift_s, e[1] + shift_s, _bent(e)) for e in events)


def _bent(event: Any) -> float:
    """The pitch of an event: its bends are thirds of a semitone, and 1 where it is in tune."""
    return float(event[2] + (np.median(event[4]) - 1) / 3 if event[4] else event[2])


@cache
def _basic_pitch() -> Any:
    import basic_pitch
    from basic_pitch.inference import Model

    return Model(Path(basic_pitch.__file__).parent / "saved_models/icassp_2022/nmp.onnx")


SHIFT_S = {"SwiftF0": -0.0055, "pYIN": -0.005, "basic-pitch": -0.003}
"""Added to the onsets of each."""
OTHERS: dict[str, tuple[str, Callable[[Path], list[Answer]]]] = {
    "SwiftF0": ("swift_f0", by_swift),
    "pYIN": ("librosa", by_pyin),
    "basic-pitch": ("basic_pitch", by_basic_pitch),
}
"""The module that must be there, and what hears."""


def _read(path: Path) -> tuple[Any, int]:
    import soundfile

    sound, rate = soundfile.read(path, dtype="float32")
    return sound, rate


def _midi(hertz: Any) -> Any:
    return 69 + 12 * np.log2(np.asarray(hertz, dtype=float) / 440)


def cut(times: Any, pitch: Any, sound: Any, rate: int, *, shift_s: float) -> list[Answer]:
    """Notes of a pitch track: cut at silence, at a lasting step, and where the level rises."""
    grid = np.arange(0, times[-1], HOP_S)
    pitch = _steady(pitch[np.abs(times - grid[:, None]).argmin(axis=1)])
    steps = _steps(pitch)
    rises = _rises(_level_db(sound, rate, len(grid)))
    notes: list[tuple[int, int, float]] = []
    first = None
    for frame in range(len(grid) + 1):
        sounds = frame < len(grid) and np.isfinite(pitch[frame])
        if first is not None and (not sounds or steps[frame] or _again(rises, steps, frame, first)):
            if frame - first >= LEAST:
                notes.append((first, frame, float(np.median(pitch[first:frame]))))
            first = None
        if first is None and sounds:
            first = frame
    return [(b * HOP_S + shift_s, e * HOP_S + shift_s, p) for b, e, p in notes]


def _again(rises: Any, steps: Any, frame: int, first: int) -> bool:
    """True where a rise begins the same note once more, and is not part of another beginning."""
    return bool(
        rises[frame] and frame - first >= APART and not steps[frame + 1 : frame + APART].any()
    )


def _steady(pitch: Any) -> Any:
    """The pitch without outliers: the median of five frames, where three are sure."""
    padded = np.pad(pitch, 2, constant_values=np.nan)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5)
    enough = np.isfinite(windows).sum(axis=1) >= 3
    smooth = np.full(len(pitch), np.nan)
    smooth[enough] = np.nanmedian(windows[enough], axis=1)
    return smooth


def _steps(pitch: Any) -> Any:
    """Where a pitch begins that lies most of a semitone from the note so far, and stays."""
    cuts = np.zeros(len(pitch), dtype=bool)
    begin = 0
    for frame in range(1, len(pitch) - STAYS):
        if not np.isfinite(pitch[frame - 1]):
            begin = frame
            continue
        now = np.median(pitch[begin:frame])
        later = pitch[frame : frame + STAYS]
        if np.all(np.abs(later - now) > 0.6) and np.all(np.abs(later - later[-1]) < 0.5):
            cuts[frame] = True
            begin = frame
    return cuts


def _level_db(sound: Any, rate: int, frames: int) -> Any:
    """The level of 20 ms around each frame."""
    power = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=float))])
    middles = np.arange(frames) * HOP_S * rate
    low, high = (
        np.clip(middles + side * 0.01 * rate, 0, len(sound)).astype(int) for side in (-1, 1)
    )
    return 10 * np.log10((power[high] - power[low]) / np.maximum(high - low, 1) + 1e-10)


def _rises(level: Any) -> Any:
    """Where the level climbs by 3 dB in 40 ms, first at the steepest place of each climb."""
    climb = np.zeros(len(level))
    climb[4:] = level[4:] - level[:-4]
    best = np.array([climb[max(0, n - 6) : n + 7].max() for n in range(len(level))])
    tops = np.flatnonzero((climb >= RISE_DB) & (climb == best)) - 2
    cuts = np.zeros(len(level), dtype=bool)
    cuts[tops[tops > 0]] = True
    return cuts


# --- the lines ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Line:
    """What makes one line."""

    bank: Path
    source: str
    seed: int


@dataclass(frozen=True, slots=True)
class Scene:
    """One line as it is recorded; the backing and its delay where there is one."""

    take: takes.Take
    backing: Any = None
    delay_s: float = 0.0


@lru_cache(maxsize=4)
def _plain(line: Line, **asked: Any) -> Scene:
    return Scene(takes.take(line.bank, line.source, line.seed, **asked))


def _noisy(line: Line) -> Scene:
    return Scene(takes.with_noise(_plain(line).take, 20, line.seed))


def _growling(line: Line) -> Scene:
    return Scene(takes.growling(_plain(line).take, line.seed))


def _room(line: Line, rt60_s: float, ratio_db: float, **asked: Any) -> Scene:
    return Scene(takes.in_room(_plain(line, **asked).take, rt60_s, ratio_db, line.seed))


def _leaking(line: Line, level_db: float) -> Scene:
    delay_s = float(np.random.default_rng([line.seed, 9]).uniform(0, 0.4))
    backing = takes.band(line.seed % len(takes.BACKINGS))
    return Scene(
        takes.with_backing(_plain(line).take, backing, level_db, delay_s), backing, delay_s
    )


def _all_three(line: Line) -> Scene:
    scene = _leaking(line, -15)
    roomy = takes.in_room(scene.take, 0.6, 3, line.seed)
    return Scene(takes.with_noise(roomy, 20, line.seed), scene.backing, scene.delay_s)


CONDITIONS: dict[str, Callable[[Line], Scene]] = {
    "clean": _plain,
    "noise 20 dB": _noisy,
    "room RT60 0.6 s, 3 dB": partial(_room, rt60_s=0.6, ratio_db=3),
    "backing -15 dB": partial(_leaking, level_db=-15),
    "backing -25 dB": partial(_leaking, level_db=-25),
    "all three": _all_three,
    "room RT60 1.6 s, -3 dB": partial(_room, rt60_s=1.6, ratio_db=-3),
    "45 cents sharp": partial(_plain, cents=45),
    "45 cents flat": partial(_plain, cents=-45),
    "half of them repeated": partial(_plain, repeats=0.5),
    "the same, in the room": partial(_room, rt60_s=0.6, ratio_db=3, repeats=0.5),
    "growl": _growling,
    "altissimo": partial(_plain, altissimo=True),
}
ANY_SOURCE = ("clean", "room RT60 0.6 s, 3 dB")
"""What other instruments than saxophones are heard in."""
PICTURED = ("clean", "room RT60 0.6 s, 3 dB", "backing -15 dB", "all three")


# --- the score ---------------------------------------------------------------------------


@dataclass(slots=True)
class Score:
    """One line as one listener heard it, or the sum of several."""

    right: int = 0
    true: int = 0
    answered: int = 0
    onsets_ms: list[float] = field(default_factory=list)
    cents: list[float] = field(default_factory=list)
    kinds: dict[str, list[int]] = field(default_factory=dict)
    cpu_s: float = 0.0
    length_s: float = 0.0
    delays_ms: list[float] = field(default_factory=list)

    def add(self, other: Score) -> None:
        for name in ("right", "true", "answered", "onsets_ms", "cents", "cpu_s", "length_s"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.delays_ms += other.delays_ms
        for kind, (hit, of) in other.kinds.items():
            before = self.kinds.get(kind, [0, 0])
            self.kinds[kind] = [before[0] + hit, before[1] + of]

    @property
    def f1(self) -> float:
        return 200 * self.right / max(1, self.true + self.answered)


@dataclass(frozen=True, slots=True)
class Place:
    """Which cell of the tables a score belongs to."""

    listener: str
    condition: str
    line: Line


def matched(true: list[takes.Note], answers: list[takes.Note]) -> list[tuple[int, int]]:
    """The places of the true notes that are heard, and of what is heard of them."""
    from mir_eval.transcription import match_notes

    if not answers:
        return []
    return match_notes(*_spans(true), *_spans(answers), onset_tolerance=0.05, offset_ratio=None)


def answers_of(answers: list[Answer]) -> list[takes.Note]:
    return [takes.Note(max(0.0, begin), end, pitch, "") for begin, end, pitch in answers]


def scored(true: Iterable[takes.Note], answers: list[Answer]) -> Score:
    true = list(true)
    score = Score(true=len(true), answered=len(answers), kinds=defaultdict(lambda: [0, 0]))
    for note in true:
        score.kinds[note.kind][1] += 1
    for place, answer in matched(true, answers_of(answers)):
        note, (onset_s, _, midi) = true[place], answers[answer]
        score.right += 1
        score.kinds[note.kind][0] += 1
        score.onsets_ms.append(1000 * (onset_s - note.onset_s))
        score.cents.append(100 * (midi - note.midi))
    score.kinds = dict(score.kinds)
    return score


def _spans(notes: list[takes.Note]) -> tuple[Any, Any]:
    spans = np.array([[n.onset_s, max(n.offset_s, n.onset_s + 0.01)] for n in notes])
    return spans, 440 * 2 ** ((np.array([n.midi for n in notes]) - 69) / 12)


def heard_line(line: Line, *, listeners: tuple[str, ...]) -> list[tuple[Place, Score]]:
    """Each condition of a line, heard by everyone."""
    horn = line.source in takes.HORNS
    scores = []
    with tempfile.TemporaryDirectory() as folder:
        for condition, make in CONDITIONS.items():
            if not horn and condition not in ANY_SOURCE:
                continue
            scene = make(line)
            path = _written(Path(folder) / "take.wav", scene.take.sound)
            under = None
            if scene.backing is not None:
                under = _written(Path(folder) / "backing.wav", scene.backing)
            for listener in listeners:
                if listener == KNOWN and under is None:
                    continue
                if condition == "backing -25 dB" and listener not in OURS:
                    continue
                scores.append(
                    (Place(listener, condition, line), _score(listener, scene, path, under))
                )
    return scores


def _score(listener: str, scene: Scene, path: Path, under: Path | None) -> Score:
    delay_s = None
    _warm(listener)
    before_s = process_time()
    if listener in OURS:
        answers, delay_s = by_us(path, under if listener == KNOWN else None)
    else:
        answers = OTHERS[listener][1](path)
    spent_s = process_time() - before_s
    score = scored(scene.take.notes, answers)
    score.cpu_s, score.length_s = spent_s, len(scene.take.sound) / takes.RATE
    if listener == KNOWN:
        score.delays_ms = [1000 * (delay_s - scene.delay_s) if delay_s is not None else np.inf]
    return score


@cache
def _warm(listener: str) -> None:
    """The listener once, so that loading and compiling are not counted."""
    with tempfile.TemporaryDirectory() as folder:
        tone = 0.3 * np.sin(2 * np.pi * 330 * np.arange(2 * takes.RATE) / takes.RATE)
        path = _written(Path(folder) / "tone.wav", tone)
        if listener in OURS:
            by_us(path)
        else:
            OTHERS[listener][1](path)


def _written(path: Path, sound: Any) -> Path:
    import soundfile

    soundfile.write(path, np.clip(sound, -1, 1).astype("f4"), takes.RATE, subtype="FLOAT")
    return path


# --- the tables --------------------------------------------------------------------------

Results = list[tuple[Place, Score]]


def pooled(results: Results, keep: Callable[[Place], bool]) -> Score | None:
    """The sum of the scores that are kept; None where there are none."""
    total = Score()
    for place, score in results:
        if keep(place):
            total.add(score)
    return total if total.true else None


def _in(listener: str, condition: str, source: str | None = None, bank: Path | None = None) -> Any:
    """Chooses a listener's scores in a condition: of the saxophones, or of one source."""
    return lambda place: (
        (place.listener, place.condition) == (listener, condition)
        and (place.line.source == source if source else place.line.source in takes.HORNS)
        and (bank is None or place.line.bank == bank)
    )


def table(
    title: str, rows: Iterable[str], columns: Iterable[str], cell: Callable[[str, str], str]
) -> str:
    columns = list(columns)
    cells = [[row, *(cell(row, column) for column in columns)] for row in rows]
    wide = max(len(text) for line in cells for text in (*line[1:], *columns)) + 2
    lines = ["", title, " " * 24 + "".join(f"{column:>{wide}}" for column in columns)]
    lines += [f"{row:24}" + "".join(f"{text:>{wide}}" for text in rest) for row, *rest in cells]
    return "\n".join(lines)


def tables(results: Results, listeners: tuple[str, ...], banks: list[Path]) -> Iterator[str]:
    def cell(show: Callable[[Score], str], row: str, column: str, *only: Any) -> str:
        score = pooled(results, _in(column, row, *only))
        return show(score) if score else "-"

    f1 = partial(cell, lambda score: f"{score.f1:.1f}")
    yield table("Note F1, saxophones", CONDITIONS, listeners, f1)
    for bank in banks if len(banks) > 1 else ():
        title = f"Note F1, saxophones of {bank.stem}"
        yield table(title, CONDITIONS, listeners, lambda r, c, b=bank: f1(r, c, None, b))
    alone = [name for name in listeners if name != KNOWN]
    sources = (*takes.HORNS, *takes.OTHERS, *takes.MODULATED)
    for condition in ANY_SOURCE:
        yield table(
            f"Note F1 by source, {condition}",
            sources,
            alone,
            lambda r, c, of=condition: f1(of, c, r),
        )
    for bank in banks if len(banks) > 1 else ():
        yield table(
            f"Note F1 by source, clean, {bank.stem}",
            sources,
            alone,
            lambda r, c, b=bank: f1("clean", c, r, b),
        )
    yield table("Onset error in ms: 16th, 50th, 84th percentile", CONDITIONS, listeners,
                partial(cell, _spread))  # fmt: skip
    yield table("Pitch error in cents: bias, median size", CONDITIONS, listeners,
                partial(cell, _bias))  # fmt: skip
    for condition in ("clean", "all three"):
        kinds = ("step", "leap", "repeated")
        yield table(f"Notes found of each kind, %, {condition}", kinds, listeners,
                    lambda r, c, of=condition: cell(partial(_of_kind, kind=r), of, c))  # fmt: skip
    yield table(
        "CPU seconds for a second of sound",
        ("clean", "all three"),
        listeners,
        partial(cell, lambda score: f"{score.cpu_s / score.length_s:.3f}"),
    )
    if KNOWN in listeners:
        leaking = ("backing -15 dB", "backing -25 dB", "all three")
        yield table("Delay error in ms: median size, largest", leaking, [KNOWN],
                    partial(cell, _delay))  # fmt: skip


def _spread(score: Score) -> str:
    return "{:.1f} {:.1f} {:.1f}".format(*np.percentile(score.onsets_ms or [np.nan], (16, 50, 84)))


def _bias(score: Score) -> str:
    cents = np.array(score.cents or [np.nan])
    return f"{np.median(cents):.1f} {np.median(np.abs(cents)):.1f}"


def _of_kind(score: Score, kind: str) -> str:
    hit, of = score.kinds.get(kind, (0, 0))
    return f"{100 * hit / of:.1f} of {of}" if of else "-"


def _delay(score: Score) -> str:
    sizes = np.abs(score.delays_ms)
    return f"{np.median(sizes):.2f} {np.max(sizes):.2f}"


# --- the picture -------------------------------------------------------------------------

CELL, GAP, REACH_MS, BIN_MS = (180, 90), 26, 50, 2


def picture(results: Results, listeners: tuple[str, ...]) -> str:
    """Histograms of onset errors as SVG: a row a condition, a column a listener."""
    columns = [name for name in listeners if name != KNOWN]
    width = 20 + len(columns) * (CELL[0] + GAP)
    height = 40 + len(PICTURED) * (CELL[1] + 2 * GAP)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'font-family="sans-serif" font-size="11">',
        f'<rect width="{width}" height="{height}" fill="white"/>',
        f'<text x="20" y="18">Onset error of matched notes, saxophones: -{REACH_MS} to '
        f"{REACH_MS} ms, {BIN_MS} ms a bar, share of the true notes</text>",
    ]
    for row, condition in enumerate(PICTURED):
        for column, listener in enumerate(columns):
            score = pooled(results, _in(listener, condition))
            if score is not None:
                left = 20 + column * (CELL[0] + GAP)
                top = 40 + GAP + row * (CELL[1] + 2 * GAP)
                parts += _histogram(score, f"{listener}: {condition}", left, top)
    return "\n".join([*parts, "</svg>\n"])


def _histogram(score: Score, title: str, left: int, top: int) -> Iterator[str]:
    edges = np.arange(-REACH_MS, REACH_MS + 1, BIN_MS)
    shares = np.histogram(score.onsets_ms, edges)[0] / max(1, score.true)
    wide = CELL[0] / len(shares)
    yield f'<text x="{left}" y="{top - 6}">{title}</text>'
    for index, share in enumerate(shares):
        tall = CELL[1] * min(1.0, share / 0.25)
        yield (
            f'<rect x="{left + index * wide:.1f}" y="{top + CELL[1] - tall:.1f}" '
            f'width="{wide - 0.6:.1f}" height="{tall:.1f}" fill="#3b6ea5"/>'
        )
    base = top + CELL[1]
    yield f'<path d="M{left} {base}h{CELL[0]}m{-CELL[0] / 2} 0v4" stroke="black" fill="none"/>'
    for place, text in ((0, f"-{REACH_MS}"), (0.5, "0 ms"), (1, f"{REACH_MS}")):
        yield (
            f'<text x="{left + place * CELL[0]:.0f}" y="{base + 15}" '
            f'text-anchor="middle">{text}</text>'
        )


WORST, SECOND_PX, SEMITONE_PX = 3, 110, 9


def worst_of(results: Results) -> list[Place]:
    """Where we heard worst: of each line only its worst condition."""
    ours = [(place, score) for place, score in results if place.listener in OURS]
    worst: dict[Line, tuple[Place, Score]] = {}
    for place, score in sorted(ours, key=lambda result: result[1].f1):
        worst.setdefault(place.line, (place, score))
    return [place for place, _ in sorted(worst.values(), key=lambda result: result[1].f1)][:WORST]


def error_picture(place: Place) -> str:
    """What was played, as frames, and over it what we heard: right in blue, wrong in red."""
    scene = CONDITIONS[place.condition](place.line)
    with tempfile.TemporaryDirectory() as folder:
        path = _written(Path(folder) / "take.wav", scene.take.sound)
        under = None
        if place.listener == KNOWN:
            under = _written(Path(folder) / "backing.wav", scene.backing)
        answers = answers_of(by_us(path, under)[0])
    true = list(scene.take.notes)
    pairs = matched(true, answers)
    hits, right = {place for place, _ in pairs}, {answer for _, answer in pairs}
    pitches = [note.midi for note in (*true, *answers)]
    top, low = max(pitches) + 3, min(pitches) - 2
    width = SECOND_PX * len(scene.take.sound) / takes.RATE + 20
    height = SEMITONE_PX * (top - low) + 30

    def box(note: takes.Note, style: str) -> str:
        left, wide = 10 + SECOND_PX * note.onset_s, SECOND_PX * (note.offset_s - note.onset_s)
        middle = 30 + SEMITONE_PX * (top - note.midi)
        return (
            f'<rect x="{left:.1f}" y="{middle - SEMITONE_PX / 2:.1f}" width="{max(2, wide):.1f}" '
            f'height="{SEMITONE_PX - 1}" {style}/>'
        )

    missed = len(true) - len(hits)
    title = (
        f"{scene.take.name}, {place.condition}, {place.listener}: {len(true)} notes, {missed} "
        f"missed (red frame), {len(answers) - len(right)} heard that are not there (red)"
    )
    marks = [
        box(note, f'fill="{"#3b6ea5" if n in right else "#c0392b"}" fill-opacity="0.75"')
        for n, note in enumerate(answers)
    ] + [
        box(note, f'fill="none" stroke="{"#555555" if n in hits else "#c0392b"}"')
        for n, note in enumerate(true)
    ]
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'font-family="sans-serif" font-size="12">',
            f'<rect width="{width:.0f}" height="{height:.0f}" fill="white"/>',
            f'<text x="10" y="18">{title}</text>',
            *marks,
            "</svg>\n",
        ]
    )


# --- the run -----------------------------------------------------------------------------


def options_typed() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--banks", nargs="+", type=Path, help="sound banks (.sf2)")
    parser.add_argument("--lines", type=int, default=3, help="lines of each source and bank")
    parser.add_argument("--seed", type=int, default=FIRST_SEED, help="the first seed")
    parser.add_argument("--quick", action="store_true", help="one line of each source and bank")
    parser.add_argument("--only", nargs="+", help="listeners: ours, SwiftF0, pYIN, basic-pitch")
    parser.add_argument("--sources", nargs="+", help="instruments; all of them otherwise")
    parser.add_argument("--jobs", type=int, default=1, help="lines heard at once")
    parser.add_argument("--picture", type=Path, help="write histograms of onset errors (.svg)")
    parser.add_argument("--errors", type=Path, help="folder for pictures of our worst takes (.svg)")
    return parser.parse_args()


def present(only: list[str] | None) -> tuple[str, ...]:
    """The listeners that can be asked, ours first."""
    others = [name for name, (module, _) in OTHERS.items() if find_spec(module)]
    names = (*OURS, *others)
    return tuple(n for n in names if only is None or n in only or (n == KNOWN and "ours" in only))


def long_take(line: Line) -> str:
    """What three minutes cost us: the same lines one after another, in one file."""
    scenes = [_plain(Line(line.bank, line.source, line.seed + n)) for n in range(4)]
    once = np.concatenate([scene.take.sound for scene in scenes])
    sound = np.resize(once, 180 * takes.RATE)
    backing = np.resize(takes.band(), len(sound))
    take = takes.with_backing(takes.Take("long", line.source, sound, ()), backing, -15, 0.1)
    with tempfile.TemporaryDirectory() as folder:
        path = _written(Path(folder) / "take.wav", take.sound)
        under = _written(Path(folder) / "backing.wav", backing)
        spent = []
        for known in (None, under):
            before, before_s = perf_counter(), process_time()
            by_us(path, known)
            spent.append(f"{perf_counter() - before:.1f} s (CPU {process_time() - before_s:.1f} s)")
    return f"A take of three minutes: blind {spent[0]}, with the backing known {spent[1]}"


def main() -> None:
    options = options_typed()
    _hush()
    banks = [path.resolve() for path in options.banks or [find_bank()]]
    listeners = present(options.only)
    seeds = range(options.seed, options.seed + (1 if options.quick else options.lines))
    sources = options.sources or [*takes.HORNS, *takes.OTHERS, *takes.MODULATED]
    lines = [
        Line(bank, source, seed)
        for seed in seeds
        for source in sources
        for bank in (banks[:1] if source in takes.MODULATED else banks)
    ]
    print("Banks:", ", ".join(path.name for path in banks))
    print(f"Seeds: {seeds[0]} to {seeds[-1]}. Backing played by: {find_bank().name}")
    print("Listeners:", ", ".join(listeners))
    missing = [name for name in OTHERS if not find_spec(OTHERS[name][0])]
    print("Not installed:", ", ".join(missing) or "none")
    print(SEEN, flush=True)
    begin_s = perf_counter()
    with get_context("spawn").Pool(options.jobs, initializer=_hush) as pool:
        work = pool.imap_unordered(partial(heard_line, listeners=listeners), lines)
        results = [score for scores in work for score in scores]
    print("\n".join(tables(results, listeners, banks)))
    if "ours" in listeners:
        print("\n" + long_take(lines[0]))
    print(f"\n{len(lines)} lines in {perf_counter() - begin_s:.0f} s, {options.jobs} at once")
    if options.picture:
        options.picture.write_text(picture(results, listeners))
    if options.errors:
        options.errors.mkdir(parents=True, exist_ok=True)
        for number, place in enumerate(worst_of(results), start=1):
            path = options.errors / f"worst-{number}.svg"
            path.write_text(error_picture(place))
            print(f"{path}: {place.line.source} of {place.line.bank.stem}, {place.condition}")


def _hush() -> None:
    """Lets the trackers speak to nobody."""
    logging.disable(logging.ERROR)
    warnings.simplefilter("ignore")


if __name__ == "__main__":
    main()
