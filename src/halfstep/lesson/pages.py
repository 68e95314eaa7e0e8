"""What stands on a player's handout, in words and written pitch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from halfstep.etude.etude_notes import Approach
from halfstep.etude.explanation import explained
from halfstep.harmony.changes import Motion, instruction
from halfstep.harmony.tones import chord_tones
from halfstep.instruments import Clef
from halfstep.lesson.make import Lesson, PlayerLesson
from halfstep.lesson.titles import lesson_facts, step_title
from halfstep.part.chord_text import chord_text
from halfstep.part.etude_score import score_of
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.pitch import Name, Pitch, pitch_near
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol
from halfstep.render.handout import (
    ChangeEntry,
    ChordEntry,
    Handout,
    HandoutBar,
    LegendEntry,
    NamedTone,
    ScaleTone,
    StepEntry,
)
from halfstep.render.score_pictures import draw_sign
from halfstep.score import Barline, Mark

CARE = (
    "Rest a minute or two every ten; stop when something hurts, and ask your teacher, a "
    "physician or a hand therapist.",
    "Start the backing softly. Practice in a small room easily passes 85 dBA, the level NIOSH "
    "recommends for no more than eight hours a day; 3 dB more halves the time.",
)
"""NIOSH's recommended exposure limit, and common practice."""

CHANGING = "a changing note: it was not in the scale before"
BREATHE = LegendEntry("breathe", ",")
_LEADING = {
    Approach.SCALE: (Mark.LEADS, "leads to the next note"),
    Approach.CHROMATIC: (Mark.LEADS_CHROMATIC, "leads to the next note, from outside the scale"),
    Approach.ENCLOSURE: (Mark.ENCLOSES, "two notes close in on the next"),
}

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
    whole = _whole_handout(lesson, player, degrees=degrees)
    return shortened(whole) if short else whole


def shortened(whole: Handout) -> Handout:
    """A handout without what a teacher can say, and with all the music."""
    return replace(
        whole,
        chords=tuple(_short_chord(entry) for entry in whole.chords),
        changes=tuple(_short_change(entry) for entry in whole.changes),
        steps=tuple(replace(entry, explained=entry.explained[:1]) for entry in whole.steps),
        short=True,
    )


def _short_chord(entry: ChordEntry) -> ChordEntry:
    return ChordEntry(
        chord=entry.chord,
        tones=entry.tones,
        scale=entry.scale,
        scale_tones=(),
        parent="",
        parent_fifths=None,
        reason="",
        bars=entry.bars,
    )


def _short_change(entry: ChangeEntry) -> ChangeEntry:
    return ChangeEntry(
        bars=entry.bars, before=entry.before, after=entry.after, instruction=entry.instruction
    )


def _whole_handout(lesson: Lesson, player: PlayerLesson, *, degrees: bool) -> Handout:
    brief, part = lesson.brief, player.part
    names = dict(brief.players).get(player.instrument.key, "")
    label = player.instrument.label
    return Handout(
        title=brief.chart.title,
        player=f"{label} · {names}" if names else label,
        facts=lesson_facts(brief, part),
        clef=player.instrument.clef,
        grid=_grid(part),
        chords=_chords(part),
        changes=_changes(part),
        steps=_steps(lesson, player, degrees=degrees),
        legend=tuple(_legend(player)),
        care=CARE,
    )


def _legend(player: PlayerLesson) -> Iterator[LegendEntry]:
    """The marks that stand on this handout."""
    notes = [note for etude in player.etudes for note in etude.notes]
    if any(note.changing for note in notes):
        yield LegendEntry(CHANGING, picture=draw_sign(Mark.CHANGING))
    for approach, (mark, text) in _LEADING.items():
        if any(note.approach is approach for note in notes):
            yield LegendEntry(text, picture=draw_sign(mark))
    if any(note.breath for note in notes):
        yield BREATHE


def _grid(part: Part) -> tuple[HandoutBar, ...]:
    chart = part.analysis.chart
    last = len(chart.form)
    bars = []
    meter = chart.meter
    for bar, _, written in chords_in_bars(part.analysis):
        texts = tuple(chord_text(part.symbol(chord), at) for at, chord in written)
        note = str(bar.meter) if bar.meter != meter else ""
        meter = bar.meter
        end = Barline.FINAL if bar.number == last else Barline.SINGLE
        bars.append(HandoutBar(bar.number, bar.beats, texts, note=note, barline=end))
    return tuple(bars)


def _chords(part: Part) -> tuple[ChordEntry, ...]:
    """One entry for each distinct chord with its scale, in order of appearance."""
    places: dict[tuple[str, str], list[int]] = {}
    for index, analysed in enumerate(part.analysis.chords):
        if not analysed.silent:
            key = (str(_plain(part.symbol(index))), analysed.scale.mode.label)
            places.setdefault(key, []).append(index)
    return tuple(_chord_entry(part, indices) for indices in places.values())


def _plain(symbol: ChordSymbol) -> ChordSymbol:
    """The chord without a bass that is one of its own tones: C/E has the notes of C."""
    tones = {tone.name.pitch_class for tone in chord_tones(symbol)}
    if symbol.bass is None or symbol.bass.pitch_class not in tones:
        return symbol
    return replace(symbol, bass=None)


def _place(part: Part, index: int) -> str:
    """Where a chord begins: its bar, and its beat where that is not the first."""
    span = part.analysis.chords[index].span
    bar, start = next(
        (bar, start) for bar, start in part.analysis.chart.placed() if bar.number == span.bar
    )
    pulses = (span.start - start) / bar.meter.tempo_beats
    return f"{bar.number} (beat {float(pulses + 1):.4g})" if pulses else str(bar.number)


def _chord_entry(part: Part, indices: Sequence[int]) -> ChordEntry:
    index = indices[0]
    analysed = part.analysis.chords[index]
    scale = part.scale(index)
    names = part.names(index)
    held = {name.pitch_class for name in names}
    start = _start_of_scale(scale.root, part.instrument.clef)
    tones = tuple(
        ScaleTone(_above(start, note.name), str(note.degree), note.name.pitch_class in held)
        for note in scale.notes
    )
    parent = scale.parent
    return ChordEntry(
        chord=chord_text(_plain(part.symbol(index)), Fraction(0)),
        tones=tuple(
            NamedTone(str(name), str(tone.degree))
            for name, tone in zip(names, analysed.tones, strict=True)
        ),
        scale=str(scale),
        scale_tones=tones,
        parent=_parent_line(scale.parent_label, parent),
        parent_fifths=_printable_fifths(parent),
        reason=part.in_words(analysed.choices[0].reason, index),
        others=tuple(choice.scale.mode.label for choice in analysed.choices[1:4]),
        bars=tuple(_place(part, place) for place in indices),
    )


def _parent_line(label: str, parent: Key | None) -> str:
    if parent is None:
        return "a scale without a key signature"
    return f"parent {label}, {parent.signature}"


def _printable_fifths(parent: Key | None) -> int | None:
    """The signature, where one with seven accidentals or fewer exists."""
    return parent.fifths if parent and abs(parent.fifths) <= 7 else None


def _start_of_scale(root: Name, clef: Clef) -> Pitch:
    """The root in the octave that sits best on the staff."""
    low = _SCALE_FROM[clef]
    return pitch_near(root, low + (root.pitch_class - low) % 12)


def _above(start: Pitch, name: Name) -> Pitch:
    """The note of that name within the octave above ``start``."""
    return pitch_near(name, start.midi + (name.pitch_class - start.midi) % 12)


def _changes(part: Part) -> tuple[ChangeEntry, ...]:
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
        place = _place(part, index) + (" again" if index == 0 else "")
        bars.setdefault(key, []).append(place)
        entries[key] = ChangeEntry(
            bars=tuple(bars[key]),
            before=chord_text(before, Fraction(0)),
            after=chord_text(after, Fraction(0)),
            instruction=text,
            stays=tuple(map(str, change.stays)),
            half_steps=_moves(change.half_steps),
            whole_steps=_moves(change.steps),
            new=tuple(map(str, change.new)),
            renamed=tuple(f"{move.old} = {move.new}" for move in change.renamed),
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
            score=score_of(
                etude,
                player.part,
                title=step_title(brief.chart, etude.step),
                feel=brief.eighths,
                degrees=degrees,
            ),
            notices=tuple(n.sentence(player.part.symbol(n.chord)) for n in etude.notices),
            explained=explained(etude, player.part),
        )
        for etude in player.etudes
    )
