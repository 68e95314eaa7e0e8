"""``halfstep etude``: one step over a chart for one player, on the terminal or as a file."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path

from halfstep.app.terminal.chart_command import asked_reading, asked_tune, typed_in
from halfstep.app.terminal.chart_grid import notices
from halfstep.app.terminal.etude_lines import etude_lines
from halfstep.app.terminal.out_file import out_path
from halfstep.app.terminal.pasted_command import offered_command
from halfstep.data.etude_json import etude_file_data, kept_notes
from halfstep.errors import BriefError, ReadError
from halfstep.etude.nearest import EVERY_NOTE, Impossible
from halfstep.etude.parts import Brief, Etude, EtudeNote
from halfstep.etude.steps import STEPS, parse_steps
from halfstep.etude.write import write_etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import Compass, Instrument, find_instrument
from halfstep.lesson.brief import LessonBrief
from halfstep.lesson.make import Lesson, PlayerLesson, lesson_with
from halfstep.lesson.pages import handout_for, lesson_facts, step_title
from halfstep.level import Level
from halfstep.part.transposed_part import Part, part_for, score_of
from halfstep.pitch import Pitch, parse_pitch
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet
from halfstep.score import Score

ProgressBar = Callable[[int], AbstractContextManager[Callable[[str], None]]]
"""Given the pieces of work there are; inside, told each one that is done."""

SUFFIXES = (".musicxml", ".mid", ".pdf", ".svg", ".wav", ".json")
SVG_WIDTH_MM = 178.0
"""The text width of an A4 page."""

_SPAN = re.compile(r"\s*(\d{1,6})\s*(?:-\s*(\d{1,6})\s*)?")


def write(
    asked: argparse.Namespace,
    *,
    level: Level,
    tempo_bpm: float | None,
    seed: int,
    progress: ProgressBar,
) -> None:
    """Do what ``halfstep etude`` was asked for."""
    out = None if asked.out is None else out_path(asked.out, SUFFIXES)
    step = _step(asked.step)
    player = find_instrument("concert" if asked.instrument is None else asked.instrument)
    sheet = load_sheet(typed_in(asked.chart), reading=asked_reading(asked), tune=asked_tune(asked))
    chart = played(sheet)
    lesson_brief = LessonBrief(chart, (player,), (step,), level, tempo_bpm, seed=seed)
    analysis = analyse(chart, level=level)
    part = part_for(analysis, player)
    limits, said = _limits(asked, player, level)
    known = None if asked.notes is None else _known(asked.notes, player)
    said += _beyond(known or (), player, level)
    pinned, of_kept = _pinned(asked, part)
    said += of_kept
    brief = Brief(
        player,
        level,
        lesson_brief.pulses_a_minute,
        seed,
        limits,
        known=None if known is None else frozenset(pitch.midi for pitch in known),
        pinned=pinned,
        feel=lesson_brief.eighths,
    )
    try:
        etude = write_etude(step, analysis, brief)
    except Impossible as refused:
        command = offered_command(asked, refused, part)
        raise BriefError(": ".join(filter(None, (refused.said(part), command)))) from None
    said = [*notices(sheet, chart), *said, *(n.said(part.symbol(n.chord)) for n in etude.notices)]
    if out is None:
        print(f"{chart.title} · {STEPS[step].heading} · {player.label}")
        print(lesson_facts(lesson_brief, part))
        print("\n".join(etude_lines(etude, part)))
        print("\n".join(f"note: {notice}" for notice in said), end="\n" if said else "")
        return
    said += deliver(etude, part, lesson_brief, out, degrees=asked.degrees, progress=progress)
    for notice in said:
        print(f"note: {notice}", file=sys.stderr)


def deliver(
    etude: Etude,
    part: Part,
    brief: LessonBrief,
    out: Path,
    *,
    degrees: bool,
    progress: ProgressBar,
) -> tuple[str, ...]:
    """Write an etude in the form that the file's name ends in, whole or not at all.

    Returns
    -------
    tuple of str
        What should be said of the file.

    Raises
    ------
    BriefError
    MissingExtra
    """
    from halfstep.files import write_whole
    from halfstep.render.wav_file import wav_bytes

    said: tuple[str, ...] = ()
    suffix = out.suffix.lower()
    if suffix == ".wav":
        from halfstep.lesson.write import line_sound

        with progress(2) as done:
            lesson = _lesson(etude, part, brief)
            done("playing the band and the line")
            sound = line_sound(lesson, etude)
            data, said = wav_bytes(sound.samples, loop=sound.loop), sound.notices
            done("writing the file")
    else:
        data = _FORMS[suffix](etude, part, brief, degrees)
    try:
        write_whole(out, data)
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error
    return said


def _lesson(etude: Etude, part: Part, brief: LessonBrief) -> Lesson:
    player = PlayerLesson(part.instrument, part, (etude,))
    return lesson_with(brief, etude.analysis, [player])


def _score(etude: Etude, part: Part, brief: LessonBrief, degrees: bool) -> Score:
    title = step_title(brief.chart, etude.step)
    return score_of(etude, part, title=title, feel=brief.eighths, degrees=degrees)


def _musicxml(etude: Etude, part: Part, brief: LessonBrief, degrees: bool) -> bytes:
    from halfstep.render.musicxml_writer import musicxml_text

    return musicxml_text(_score(etude, part, brief, degrees)).encode()


def _midi(etude: Etude, _part: Part, brief: LessonBrief, _degrees: bool) -> bytes:
    from halfstep.lesson.write import line_midi

    return line_midi(etude, title=step_title(brief.chart, etude.step))


def _svg(etude: Etude, part: Part, brief: LessonBrief, degrees: bool) -> bytes:
    from halfstep.render.score_pictures import score_svg

    score = _score(etude, part, brief, degrees)
    return score_svg(score, width_mm=SVG_WIDTH_MM).encode()


def _pdf(etude: Etude, part: Part, brief: LessonBrief, degrees: bool) -> bytes:
    from halfstep.render.handout import handout_pdf

    lesson = _lesson(etude, part, brief)
    whole = handout_for(lesson, lesson.players[0], degrees=degrees)
    return handout_pdf(replace(whole, chords=(), changes=()))


def _json(etude: Etude, part: Part, brief: LessonBrief, _degrees: bool) -> bytes:
    data = etude_file_data(etude, part, brief)
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode()


_FORMS: dict[str, Callable[[Etude, Part, LessonBrief, bool], bytes]] = {
    ".musicxml": _musicxml, ".mid": _midi, ".pdf": _pdf, ".svg": _svg, ".json": _json,
}  # fmt: skip


# What was typed


def _step(text: str) -> int:
    try:
        steps = parse_steps(text)
    except BriefError:
        words = ", ".join(step.word for step in STEPS.values() if step.word)
        raise BriefError(f"--step {text!r}: give 1 to {max(STEPS)}, or {words}") from None
    if len(steps) > 1:
        raise BriefError(f"--step {text!r}: give one step; halfstep lesson writes several")
    return steps[0]


def _written(option: str, text: str, player: Instrument) -> Pitch:
    """The concert pitch of a note that the player reads."""
    try:
        pitch = player.concert(parse_pitch(text))
    except ReadError as error:
        raise BriefError(f"--{option}: {error.message}") from None
    if not 0 <= pitch.midi <= 127:
        raise BriefError(f"--{option} {text}: no instrument here plays it")
    return pitch


def _known(text: str, player: Instrument) -> tuple[Pitch, ...]:
    """The concert pitches of the notes that are known."""
    words = text.replace(",", " ").split()
    if not words:
        raise BriefError('--notes is empty; give the written notes that are known: "G4 A4 B4"')
    return tuple(_written("notes", word, player) for word in words)


def _beyond(known: Sequence[Pitch], player: Instrument, level: Level) -> list[str]:
    """Which known notes are left out, because the level's range lacks them.

    Raises
    ------
    BriefError
        When that is all of them.
    """
    compass = player.compass(level)
    out = [str(pitch) for pitch in map(player.written, known) if pitch not in compass]
    if not out:
        return []
    said = f"{player.key} at level {level} has {compass}, without {', '.join(out)}"
    if len(out) == len(known):
        raise BriefError(f"--notes: {said}; choose another --level or other notes")
    return [f"{said}; left out"]


def _limits(
    asked: argparse.Namespace, player: Instrument, level: Level
) -> tuple[tuple[int, int], list[str]]:
    """Concert limits as MIDI numbers, and what should be said of them.

    Raises
    ------
    BriefError
        When they leave no note of the player's range.
    """
    if asked.low is None and asked.high is None:
        return EVERY_NOTE, []
    compass = player.compass(level)
    whole = Compass(player.concert(compass.low), player.concert(compass.high))
    low = whole.low if asked.low is None else _written("low", asked.low, player)
    high = whole.high if asked.high is None else _written("high", asked.high, player)
    if low.midi > high.midi or low.midi > whole.high.midi or high.midi < whole.low.midi:
        raise BriefError(
            f"--low {player.written(low)} and --high {player.written(high)} leave no note; "
            f"{player.key} at level {level} has {compass}"
        )
    said = []
    if low.midi < whole.low.midi or high.midi > whole.high.midi:
        said.append(f"{player.key} at level {level} has {compass}; the line stays inside")
    lowest = EVERY_NOTE[0] if asked.low is None else low.midi
    highest = EVERY_NOTE[1] if asked.high is None else high.midi
    return (lowest, highest), said


def _pinned(asked: argparse.Namespace, part: Part) -> tuple[tuple[EtudeNote, ...], tuple[str, ...]]:
    """The notes of the bars to keep, and what should be said of them."""
    if asked.keep is None and asked.source is None:
        return (), ()
    if asked.keep is None or asked.source is None:
        raise BriefError("--keep BARS and --from FILE go together: which bars, and of which etude")
    return kept_notes(asked.source, _bars(asked.keep, part.analysis.chart), part)


def _bars(text: str, chart: Chart) -> frozenset[int]:
    """Bars such as ``3,5-6``, as numbers of the form."""
    count = len(chart.form)
    found: set[int] = set()
    for span in text.split(","):
        ends = _SPAN.fullmatch(span)
        if not ends:
            raise BriefError(f"--keep {text!r}: write bars like 3,5-6")
        low, high = int(ends[1]), int(ends[2] or ends[1])
        if not 1 <= low <= high <= count:
            raise BriefError(f"--keep {text!r}: the chart has bars 1 to {count}, lower first")
        found.update(range(low, high + 1))
    return frozenset(found)
