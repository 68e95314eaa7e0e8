"""What stands on a player's handout, in words and written pitch."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import reduce
from operator import or_

from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_words import capital
from halfstep.etude.explanation import explained
from halfstep.etude.step import Exercise
from halfstep.etude.teachers_line import EXAMPLE
from halfstep.etude.touches import touches
from halfstep.etude.written_etude import ExerciseLine
from halfstep.harmony.changes import Motion, instruction
from halfstep.harmony.scales import Scale
from halfstep.harmony.tones import chord_tones
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.lesson.make import Lesson, PlayerLesson
from halfstep.lesson.titles import lesson_facts, step_manner, step_title
from halfstep.level import Level
from halfstep.part.chord_text import chord_text
from halfstep.part.etude_score import pickup_chords, score_of
from halfstep.part.places import beat_words, end_of_chart_bar
from halfstep.part.said_once import once_each
from halfstep.part.transposed_part import Part, chords_in_bars, part_for
from halfstep.pitch import Name, Pitch, pitch_near
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol
from halfstep.render.handout import (
    ChangeEntry,
    ChordEntry,
    ColourEntry,
    Detail,
    Handout,
    HandoutBar,
    LegendEntry,
    NamedTone,
    Remark,
    ScaleTone,
    StepEntry,
    WatchEntry,
)
from halfstep.render.score_pictures import draw_sign
from halfstep.score import Mark

CARE = (
    "Rest a minute or two every ten; stop when something hurts, and ask your teacher, a "
    "physician or a hand therapist.",
    "Start the backing softly. Practice in a small room easily passes 85 dBA, the level NIOSH "
    "recommends for no more than eight hours a day; 3 dB more halves the time.",
)
"""NIOSH's recommended exposure limit, and common practice."""

CHANGING = "a changing note: it was not in the scale before"
BREATHE = LegendEntry("breathe", ",")
_TOUCHES = {Mark.SCOOP: "reach it from below", Mark.FALL: "let it fall away"}
GHOST = LegendEntry("barely sounded", "( )")
_LEADING = {
    Approach.SCALE: (Mark.LEADS, "leads to the next note"),
    Approach.CHROMATIC: (Mark.LEADS_CHROMATIC, "leads to the next note, from outside the scale"),
    Approach.ENCLOSURE: (Mark.ENCLOSES, "two notes close in on the next"),
}

LONG_FORM = 24
"""Bars up to which a line of the grid holds four."""

_SCALE_FROM = {Clef.TREBLE: 59, Clef.BASS: 40}
"""The lowest MIDI number a scale in the table starts on, written pitch."""


def handout_for(
    lesson: Lesson, player: PlayerLesson, *, degrees: bool = False, short: bool = False
) -> Handout:
    """The content of one player's handout.

    Parameters
    ----------
    lesson : Lesson
    player : PlayerLesson
    degrees : bool
        Degrees under the notes.
    short : bool
        Each chord with its notes and the name of its scale, each change in one line, and
        of what is said about a step the first sentence.
    """
    brief, part = lesson.brief, player.part
    return Handout(
        title=brief.chart.title,
        player=player.player.label,
        facts=lesson_facts(brief, part, level=player.player.level),
        clef=player.instrument.clef,
        grid=_grid(part, functions=False),
        chords=_chords(part, beats=False),
        colours=_colours(part),
        changes=_changes(part, beats=False),
        steps=_steps(lesson, player, degrees=degrees),
        legend=line_legend(player.lines),
        care=CARE,
        bars_a_line=_bars_a_line(part),
        detail=Detail.NAMES if short else Detail.STAVES,
        may_close=player.player.level is not Level.BEGINNER,
        has_example=player.example is not None,
    )


def teacher_sheet(lesson: Lesson) -> Handout:
    """What the teacher keeps: reasons, functions, and what to watch for in every player.

    It stands in the written pitch of the players where all read alike, else in concert
    pitch; what is said of a player is in the names that player reads.
    """
    brief = lesson.brief
    alike = len({player.part.interval for player in lesson.players}) == 1
    first = lesson.players[0]
    reader = first.instrument if alike else INSTRUMENTS["concert"]
    part = first.part if alike else part_for(lesson.analysis, reader)
    part = replace(part, strict=True)
    pitch = "written pitch" if alike else "concert pitch"
    return Handout(
        title=brief.chart.title,
        player="Teacher",
        facts=f"{lesson_facts(brief, part, level=brief.level)} · {pitch}",
        clef=reader.clef,
        grid=_grid(part, functions=True),
        chords=_chords(part, beats=True),
        colours=_colours(part),
        changes=_changes(part, beats=True),
        watch=tuple(_watch(lesson)),
        bars_a_line=_bars_a_line(part),
        readers=tuple(_reader(player) for player in lesson.players),
        detail=Detail.REASONS,
    )


def _bars_a_line(part: Part) -> int:
    """Bars on a line of the grid: a phrase, or in a long form two."""
    return 4 if len(part.analysis.chart.form) <= LONG_FORM else 8


def _reader(player: PlayerLesson) -> str:
    level = player.player.level
    compass = player.instrument.compass(level)
    return f"{player.player.label}: {level}, reads {player.part.key}, {compass}"


def _watch(lesson: Lesson) -> Iterator[WatchEntry]:
    """Step by step, what each player's version has in it: in a class the most telling alone."""
    most = None if len(lesson.players) == 1 else 1
    for place, line in enumerate(lesson.players[0].lines):
        remarks = (
            Remark(player.player.label, _remarks(player.lines[place], player.part, most))
            for player in lesson.players
        )
        spoken = tuple(remark for remark in remarks if remark.sentences)
        yield WatchEntry(line.step.heading, _task(line.step, lesson), spoken)


def _task(step: Exercise, lesson: Lesson) -> str:
    """What is asked; of the teacher's own line how well it spells the changes."""
    line = lesson.brief.line if step == EXAMPLE else None
    return f"{capital(line.measure)}." if line else step.task


def _remarks(etude: ExerciseLine, part: Part, most: int | None) -> tuple[str, ...]:
    """What is in an etude, and in one sentence what is not as its rule has it."""
    notices = "; ".join(notice.sentence(part.symbol) for notice in etude.notices)
    return (*explained(etude, part)[:most], *([f"{capital(notices)}."] if notices else []))


def line_legend(lines: Iterable[EtudeLine]) -> tuple[LegendEntry, ...]:
    """The marks that stand on some lines."""
    lines = tuple(lines)
    notes = [note for line in lines for note in line.every_note]
    marks = reduce(or_, (touch.marks for line in lines for touch in touches(line)), Mark.NONE)
    return (*_legend(notes), *_touch_legend(marks))


def _touch_legend(marks: Mark) -> Iterator[LegendEntry]:
    """What not every player knows of how a line is touched."""
    if Mark.GHOST in marks:
        yield GHOST
    for mark, text in _TOUCHES.items():
        if mark in marks:
            yield LegendEntry(text, picture=draw_sign(mark))


def _legend(notes: Sequence[EtudeNote]) -> Iterator[LegendEntry]:
    if any(note.changing for note in notes):
        yield LegendEntry(CHANGING, picture=draw_sign(Mark.CHANGING))
    for approach, (mark, text) in _LEADING.items():
        if any(note.approach is approach for note in notes):
            yield LegendEntry(text, picture=draw_sign(mark))
    if any(note.breath for note in notes):
        yield BREATHE


def _grid(part: Part, *, functions: bool) -> tuple[HandoutBar, ...]:
    chart = part.analysis.chart
    bars = [_pickup(part, bar) for bar in chart.bars if bar.number < 1]
    meter = chart.meter
    for bar, _, written in chords_in_bars(part.analysis):
        note = str(bar.meter) if bar.meter != meter else ""
        meter = bar.meter
        numerals = (part.analysis.chords[chord].numeral for _, chord in written)
        bars.append(
            HandoutBar(
                bar.number,
                bar.beats,
                tuple(chord_text(part.symbol(chord), at) for at, chord in written),
                section=bar.section,
                note=note,
                barline=end_of_chart_bar(chart, bar),
                places=tuple(beat_words(bar, at) for at, _ in written),
                functions=tuple(numerals) if functions else (),
            )
        )
    return tuple(bars)


def _pickup(part: Part, bar: Bar) -> HandoutBar:
    places = tuple(beat_words(bar, chord.at) for chord in bar.chords)
    return HandoutBar(0, bar.beats, pickup_chords(part, bar), note="pickup", places=places)


def _chords(part: Part, *, beats: bool) -> tuple[ChordEntry, ...]:
    """One entry for each distinct chord with its scale, in order of appearance."""
    places: dict[tuple[str, str], list[int]] = {}
    for index, analysed in enumerate(part.analysis.chords):
        if not analysed.silent:
            key = (str(_plain(part.symbol(index))), analysed.scale.mode.label)
            places.setdefault(key, []).append(index)
    entries = [_chord_entry(part, indices, beats=beats) for indices in places.values()]
    reasons = once_each(
        (name, entry.reason) for (name, _), entry in zip(places, entries, strict=True)
    )
    return tuple(replace(e, reason=reason) for e, reason in zip(entries, reasons, strict=True))


def _plain(symbol: ChordSymbol) -> ChordSymbol:
    """The chord without a bass that is one of its own tones: C/E has the notes of C."""
    tones = {tone.name.pitch_class for tone in chord_tones(symbol)}
    if symbol.bass is None or symbol.bass.pitch_class not in tones:
        return symbol
    return symbol.on_its_root


def _places(part: Part, indices: Iterable[int], *, beats: bool) -> tuple[str, ...]:
    """Where a chord begins, once each: its bar, and in full its beat where it has one."""
    bars = {bar.number: (bar, start) for bar, start in part.analysis.chart.placed()}
    places = []
    for index in indices:
        span = part.analysis.chords[index].span
        bar, start = bars[span.bar]
        words = beat_words(bar, span.start - start) if beats else ""
        places.append(f"{bar.number} ({words})" if words else str(bar.number))
    return tuple(dict.fromkeys(places))


def _chord_entry(part: Part, indices: Sequence[int], *, beats: bool) -> ChordEntry:
    index = indices[0]
    analysed = part.analysis.chords[index]
    scale = part.scale(index)
    names = part.names(index)
    held = {name.pitch_class for name in names}
    parent = scale.parent
    return ChordEntry(
        chord=chord_text(_plain(part.symbol(index)), Fraction(0)),
        tones=tuple(
            NamedTone(str(name), str(tone.degree))
            for name, tone in zip(names, analysed.tones, strict=True)
        ),
        scale=str(scale),
        scale_tones=_scale_tones(scale, part.instrument.clef, held),
        parent=_parent_line(scale),
        parent_fifths=parent.fifths if parent else None,
        reason=part.in_words(analysed.choices[0].reason, index),
        others=tuple(choice.scale.mode.label for choice in analysed.choices[1:4]),
        bars=_places(part, indices, beats=beats),
    )


def _scale_tones(scale: Scale, clef: Clef, held: Collection[int]) -> tuple[ScaleTone, ...]:
    """A scale on the staff; ``held`` are the pitch classes of its chord."""
    start = _start_of_scale(scale.root, clef)
    return tuple(
        ScaleTone(_above(start, note.name), str(note.degree), note.name.pitch_class in held)
        for note in scale.notes
    )


def _colours(part: Part) -> tuple[ColourEntry, ...]:
    """The blues scales of a blues, in written names."""
    clef = part.instrument.clef
    return tuple(
        ColourEntry(str(scale), _scale_tones(scale, clef, ())) for scale in part.blues_scales()
    )


def _parent_line(scale: Scale) -> str:
    """The parent key in words; nothing where one spells the notes in another way."""
    if scale.parent:
        return f"parent {scale.parent_label}, {scale.parent.signature}"
    return "" if scale.mode.parent else "a scale without a key signature"


def _start_of_scale(root: Name, clef: Clef) -> Pitch:
    """The root in the octave that sits best on the staff."""
    low = _SCALE_FROM[clef]
    return pitch_near(root, low + (root.pitch_class - low) % 12)


def _above(start: Pitch, name: Name) -> Pitch:
    """The note of that name within the octave above ``start``."""
    return pitch_near(name, start.midi + (name.pitch_class - start.midi) % 12)


def _changes(part: Part, *, beats: bool) -> tuple[ChangeEntry, ...]:
    """One entry for each distinct change, with all the bars where it happens."""
    entries: dict[tuple[str, str, str], ChangeEntry] = {}
    bars: dict[tuple[str, str, str], list[str]] = {}
    chords = part.analysis.chords
    for index in (*range(1, len(chords)), 0):
        change = part.change(index)
        before, after = _plain(part.symbol(index - 1)), _plain(part.symbol(index))
        if change is None or (before == after and not change.changing_notes):
            continue
        text = instruction(change, str)
        key = (str(before), str(after), text)
        (place,) = _places(part, [index], beats=beats)
        bars.setdefault(key, []).append(f"{place} again" if index == 0 else place)
        entries[key] = ChangeEntry(
            bars=tuple(dict.fromkeys(bars[key])),
            before=chord_text(before, Fraction(0)),
            after=chord_text(after, Fraction(0)),
            instruction=text,
            stays=tuple(map(str, change.stays)),
            half_steps=_moves(change.half_steps),
            whole_steps=_moves(change.steps),
            new=tuple(map(str, change.new)),
            renamed=tuple(f"{move.old} = {move.new}" for move in change.renamed),
            keeps=not (change.changing_notes or change.leaves or change.renamed),
        )
    return tuple(entries.values())


def _moves(motions: Iterable[Motion]) -> tuple[str, ...]:
    return tuple(f"{motion.old} → {motion.new}" for motion in motions)


def _steps(lesson: Lesson, player: PlayerLesson, *, degrees: bool) -> tuple[StepEntry, ...]:
    brief = lesson.brief
    return tuple(
        StepEntry(
            number=etude.step.number or 0,
            title=etude.step.title,
            task=etude.step.task,
            manner=step_manner(brief),
            score=score_of(
                etude,
                player.part,
                title=step_title(brief.chart, etude.step),
                feel=brief.eighths,
                degrees=degrees,
            ),
            notices=tuple(n.sentence(player.part.symbol) for n in etude.notices),
            explained=explained(etude, player.part),
        )
        for etude in player.lines
    )
