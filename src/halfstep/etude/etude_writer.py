"""An etude written, and checked before it is handed on.

The rules that the search was given are asked again of the finished notes, together with
those that only a whole line can break; an etude that breaks one is never returned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfstep.errors import BriefError
from halfstep.etude.ending_choice import ending_after, may_end, none_added, none_reached
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.etude_words import bars_in_words
from halfstep.etude.high_point import high_point_notices
from halfstep.etude.note_search import tables_of
from halfstep.etude.offers import filled_slots, impossible
from halfstep.etude.prior_notes import PriorNotes
from halfstep.etude.rule_check import Breach, breaches, joint_breaches, line_breaches
from halfstep.etude.rules import HIGH_POINT
from halfstep.etude.run_notices import hurried_crossings
from halfstep.etude.slots import FIRST_AROUND, LAST_AROUND, Leads, Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis
from halfstep.level import Level
from halfstep.pitch import Pitch, octaves_up


class RuleBroken(AssertionError):
    """The writer broke a rule of its own step: a fault of the program, not of the user."""


def write_etude(step: Step, analysis: Analysis, brief: Brief) -> Etude:
    """One step over a chart, for one player.

    The same seed writes the same etude.

    Raises
    ------
    BriefError
        `Impossible` when the step cannot be written for the brief: which rule blocks, and
        what would work.
    RuleBroken
        When the finished etude breaks a rule; never handed on.
    """
    return write_etudes(step, analysis, brief, 1)[0]


def write_etudes(step: Step, analysis: Analysis, brief: Brief, count: int) -> tuple[Etude, ...]:
    """Different etudes for one brief: the first is that of `write_etude`.

    Each later one has the next seed, and a bar that one before it has costs so much that
    it comes again only where the rules leave no other. Where the step has kin for a beginner, the
    seeds before it among them are written first, and count as well.

    Raises
    ------
    BriefError
    RuleBroken
    """
    analysis, brief = step.explained(analysis), step.brief_for(brief)
    lines = unchecked_lines(step, analysis, brief, count)
    return tuple(
        _checked(step, analysis, replace(brief, seed=seed), *line)
        for seed, line in enumerate(lines, brief.seed)
    )


def unchecked_lines(
    step: Step, analysis: Analysis, brief: Brief, count: int
) -> list[tuple[list[Slot], list[int | None]]]:
    """The slots and the concert MIDI numbers that etudes are made of, None for a rest.

    For who makes another line of them, which is checked itself. The analysis and the brief are
    taken as the step takes them.

    Raises
    ------
    BriefError
    """
    priors: list[PriorNotes] = []
    kin = step.beginners_kin if brief.level is Level.BEGINNER else 1
    first = brief.seed - brief.seed % kin
    writing = step.writing
    tables = tables_of(step, writing, brief) if isinstance(writing, NoteByNote) else None
    lines = []
    try:
        for seed in range(first, brief.seed + count):
            own = replace(brief, seed=seed)
            lines.append(filled_slots(step, analysis, own, priors, tables))
            priors.append(_prior(*lines[-1]))
    except BriefError as blocked:
        raise impossible(blocked, step, analysis, brief) from None
    return lines[brief.seed - first :]


def _prior(slots: Sequence[Slot], midis: Sequence[int | None]) -> PriorNotes:
    """What later etudes are written unlike."""
    pairs = zip(slots, midis, strict=True)
    return PriorNotes((slot.onset, slot.beats, midi) for slot, midi in pairs if midi is not None)


def _checked(
    step: Step,
    analysis: Analysis,
    brief: Brief,
    slots: Sequence[Slot],
    midis: Sequence[int | None],
) -> Etude:
    """The etude of notes that were found, all rules asked again."""
    notes = _notes(slots, midis, brief)
    etude = Etude(
        step=step,
        analysis=analysis,
        brief=brief,
        notes=notes,
        notices=_notices(step, analysis, brief, notes),
        ending=ending_after(notes, analysis, brief) if _has_ending(step, analysis, brief) else None,
    )
    _demand_rules(etude, breaches(etude, slots))
    high = high_point_notices(etude) if HIGH_POINT in step.rules else []
    more = (*high, *_joint_notices(etude, slots), *_break_notices(etude), *_ending_notices(etude))
    return replace(etude, notices=(*etude.notices, *more))


def _has_ending(step: Step, analysis: Analysis, brief: Brief) -> bool:
    return may_end(step, brief) and none_added(analysis) is None


def _ending_notices(etude: Etude) -> list[Notice]:
    """That a line lacks the ending that it should have."""
    lacks = etude.ending is None and _has_ending(etude.step, etude.analysis, etude.brief)
    return [none_reached(etude.analysis)] if lacks else []


def _break_notices(etude: Etude) -> list[Notice]:
    """Where a beginner has to cross the break quickly after all."""
    hurried = hurried_crossings(etude.notes, etude.brief)
    chords = etude.analysis.chords
    if not hurried:
        return []
    bars = bars_in_words(chords[note.chord].span.bar for note in hurried)
    text = f"{bars}: you cross the break after a short note; take it slowly there"
    return [Notice(hurried[0].chord, text)]


def _joint_notices(etude: Etude, slots: Sequence[Slot]) -> list[Notice]:
    """Where the new notes could not keep a rule beside those that stand."""
    chords = etude.analysis.chords
    return [
        Notice(
            breach.note.chord,
            f"at {{chord}} in bar {chords[breach.note.chord].span.bar} the notes that stand "
            f"leave no way to keep the rule “{breach.rule}”",
        )
        for breach in (joint_breaches(etude, slots) if etude.brief.pinned else [])
    ]


def octaves_apart(etude: Etude, brief: Brief, octaves: int) -> Etude:
    """The same etude for another player, some octaves higher (or lower, below 0).

    Rules hold in the range that it was written in: the nearest guide tone of all may be one
    that not everybody has.

    Raises
    ------
    RuleBroken
        When a rule for the whole line, such as the range, does not hold there.
    """
    notes = tuple(_moved(note, brief, octaves) for note in etude.notes)
    ending = etude.ending
    if ending:
        ending = ending._replace(note=_moved(ending.note, brief, octaves))
    moved = replace(etude, brief=brief, notes=notes, ending=ending)
    low, high = etude.brief.concert_low + 12 * octaves, etude.brief.concert_high + 12 * octaves
    limits = max(low, brief.limits[0]), min(high, brief.limits[1])
    _demand_rules(moved, line_breaches(replace(moved, brief=replace(brief, limits=limits))))
    return moved


def _moved(note: EtudeNote, brief: Brief, octaves: int) -> EtudeNote:
    pitch = note.pitch + octaves_up(octaves) if note.pitch else None
    below = tuple(head + octaves_up(octaves) for head in note.below)
    breath = note.breath and brief.instrument.breath
    return note._replace(pitch=pitch, below=below, breath=breath)


def _demand_rules(etude: Etude, broken: Sequence[Breach]) -> None:
    if broken:
        first = broken[0]
        raise RuleBroken(
            f"step {etude.step.short_name} breaks its rule “{first.rule}” at beat "
            f"{first.note.onset} ({len(broken)} in all)"
        )


def _notes(
    slots: Sequence[Slot], midis: Sequence[int | None], brief: Brief
) -> tuple[EtudeNote, ...]:
    """Notes in spelled pitch; the first hearing of each changing note is marked."""
    notes: list[EtudeNote] = []
    sounded: set[tuple[int, int]] = set()
    chord = 0
    pinned = {note.onset: note for note in brief.pinned}
    goals = _goals(slots, midis)
    for slot, midi, goal in zip(slots, midis, goals, strict=True):
        if slot.palette is None or midi is None:
            notes.append(EtudeNote(slot.onset, slot.beats, None, chord))
            continue
        palette = slot.palette
        chord = palette.chord
        fresh = bool(palette.changing[midi]) and (chord, midi % 12) not in sounded
        sounded.add((chord, midi % 12))
        if slot.stands:
            degree = palette.degrees.get(midi % 12)
            kept = pinned[slot.onset]._replace(chord=chord, degree=degree, changing=fresh)
            notes.append(kept)
            continue
        notes.append(
            EtudeNote(
                slot.onset,
                slot.beats,
                palette.pitch(midi, goal),
                chord,
                palette.degrees.get(midi % 12),
                changing=fresh,
                breath=slot.breath,
                approach=_approach(slot, midi),
                below=tuple(map(palette.pitch, slot.below)),
            )
        )
    return tuple(notes)


def _goals(slots: Sequence[Slot], midis: Sequence[int | None]) -> list[Pitch | None]:
    """For each note the next one of its scale that it leads to, spelled."""
    goals: list[Pitch | None] = []
    goal: Pitch | None = None
    for slot, midi in zip(reversed(slots), reversed(midis), strict=True):
        goals.append(goal)
        inside = slot.palette is not None and midi is not None and midi % 12 in slot.palette.names
        goal = slot.palette.pitch(midi) if slot.palette and midi and inside else goal
    return goals[::-1]


def _approach(slot: Slot, midi: int) -> Approach:
    """How a note leads to the next one."""
    if slot.leads in FIRST_AROUND | LAST_AROUND:
        return Approach.ENCLOSURE
    if slot.palette is not None and midi % 12 not in slot.palette.names:
        return Approach.CHROMATIC
    leading = slot.leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}
    return Approach.SCALE if leading else Approach.NONE


def _notices(
    step: Step, analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]
) -> tuple[Notice, ...]:
    """What the teacher should know of the notes that were written."""
    standing = {note.onset for note in brief.pinned}
    return step.writing.notices(analysis, brief, [n for n in notes if n.onset not in standing])
