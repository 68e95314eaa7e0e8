"""An etude written, and checked before it is handed on.

The rules that the search was given are asked again of the finished notes, together with
those that only a whole line can break; an etude that breaks one is never returned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from halfstep.errors import BriefError
from halfstep.etude.check import Breach, breaches, joint_breaches, line_breaches
from halfstep.etude.frame import Leads, Slot
from halfstep.etude.nearest import filled_slots, impossible
from halfstep.etude.parts import Approach, Brief, Etude, EtudeNote, Notice
from halfstep.etude.tables import KIN, NOTICES, RUN_LAYOUTS
from halfstep.harmony.analysis import Analysis
from halfstep.pitch import OCTAVE, Interval, Pitch

_NUMBER_WORDS = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th", 6: "6th", 7: "7th"}


class RuleBroken(AssertionError):
    """The writer broke a rule of its own step: a fault of the program, not of the user."""


def write_etude(step: int, analysis: Analysis, brief: Brief) -> Etude:
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


def write_etudes(step: int, analysis: Analysis, brief: Brief, count: int) -> tuple[Etude, ...]:
    """Different etudes for one brief: the first is that of `write_etude`.

    Each later one has the next seed, and a bar that one before it has costs so much that
    it comes again only where the rules leave no other. Where the step has `KIN`, the seeds
    before it among its kin are written first, and count as well.

    Raises
    ------
    BriefError
    RuleBroken
    """
    made: list[Etude] = []
    before = brief.seed % KIN.get(step, 1)
    try:
        for seed in range(brief.seed - before, brief.seed + count):
            made.append(_written(step, analysis, replace(brief, seed=seed), made))
    except BriefError as blocked:
        raise impossible(blocked, step, analysis, brief) from None
    return tuple(made[before:])


def _written(step: int, analysis: Analysis, brief: Brief, heard: Sequence[Etude]) -> Etude:
    slots, midis = filled_slots(step, analysis, brief, heard)
    notes = _notes(slots, midis, brief)
    etude = Etude(step, analysis, brief, notes, _notices(step, analysis, brief, notes))
    _demand_rules(etude, breaches(etude, slots))
    return replace(etude, notices=(*etude.notices, *_joint_notices(etude, slots)))


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

    Raises
    ------
    RuleBroken
        When a rule for the whole line, such as the range, does not hold there.
    """
    rise = Interval(OCTAVE.letters * octaves, OCTAVE.semitones * octaves)
    notes = tuple(
        replace(
            note,
            pitch=note.pitch + rise if note.pitch else None,
            breath=note.breath and brief.instrument.breath,
        )
        for note in etude.notes
    )
    moved = replace(etude, brief=brief, notes=notes)
    _demand_rules(moved, line_breaches(moved))
    return moved


def _demand_rules(etude: Etude, broken: Sequence[Breach]) -> None:
    if broken:
        first = broken[0]
        raise RuleBroken(
            f"step {etude.step} breaks its rule “{first.rule}” at beat {first.note.onset} "
            f"({len(broken)} in all)"
        )


def _notes(
    slots: Sequence[Slot], midis: Sequence[int | None], brief: Brief
) -> tuple[EtudeNote, ...]:
    """Notes in spelled pitch; the first hearing of each changing note is marked."""
    notes: list[EtudeNote] = []
    heard: set[tuple[int, int]] = set()
    chord = 0
    pinned = {note.onset: note for note in brief.pinned}
    goals = _goals(slots, midis)
    for slot, midi, goal in zip(slots, midis, goals, strict=True):
        if slot.palette is None or midi is None:
            notes.append(EtudeNote(slot.onset, slot.beats, None, chord))
            continue
        here = slot.palette
        chord = here.chord
        fresh = bool(here.changing[midi]) and (chord, midi % 12) not in heard
        heard.add((chord, midi % 12))
        if slot.stands:
            degree = here.degrees.get(midi % 12)
            own = replace(pinned[slot.onset], chord=chord, degree=degree, changing=fresh)
            notes.append(own)
            continue
        notes.append(
            EtudeNote(
                slot.onset,
                slot.beats,
                here.pitch(midi, goal),
                chord,
                here.degrees.get(midi % 12),
                changing=fresh,
                breath=slot.breath,
                approach=_approach(slot, midi),
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
    if slot.leads in {Leads.AROUND_FIRST, Leads.AROUND_SECOND}:
        return Approach.ENCLOSURE
    if slot.palette is not None and midi % 12 not in slot.palette.names:
        return Approach.CHROMATIC
    leading = slot.leads in {Leads.NEIGHBOUR, Leads.SCALE_NEIGHBOUR}
    return Approach.SCALE if leading else Approach.NONE


def _notices(
    step: int, analysis: Analysis, brief: Brief, notes: Sequence[EtudeNote]
) -> tuple[Notice, ...]:
    """What the teacher should know: chords whose run is not built on the root."""
    if step not in RUN_LAYOUTS:
        return ()
    found: dict[tuple[str, str], list[int]] = {}
    standing = {note.onset for note in brief.pinned}
    notes = [note for note in notes if note.onset not in standing]
    if step in NOTICES:
        return NOTICES[step](analysis, brief, notes)
    for index, here in enumerate(analysis.chords):
        if said := _said_of(step, index, notes):
            found.setdefault((str(here.span.symbol), said), []).append(index)
    return tuple(_notice(said, indices, analysis) for (_, said), indices in found.items())


def _notice(said: str, indices: Sequence[int], analysis: Analysis) -> Notice:
    bars = ", ".join(dict.fromkeys(str(analysis.chords[index].span.bar) for index in indices))
    return Notice(indices[0], f"{{chord}} in bar {bars} {said}")


def _said_of(step: int, index: int, notes: Sequence[EtudeNote]) -> str:
    """What a chord's run has to be told of; empty for one that is as the step says."""
    if word := _built_on(step, index, notes):
        return f"is built on its {word}: from the root it leaves the range or leaps too far"
    if step == 4 and (word := _turned_at(index, notes)):
        return f"turns at its {word}: as far as its octave it leaves the range or leaps too far"
    return ""


def _turned_at(index: int, notes: Sequence[EtudeNote]) -> str:
    """The tone where a scale with room for an octave turns before it, in words."""
    own = [(n.pitch.midi, n.degree) for n in notes if n.chord == index and n.pitch and n.degree]
    if len(own) <= OCTAVE.letters or _span([midi for midi, _ in own]) >= OCTAVE.semitones:
        return ""
    rises = own[1][0] > own[0][0]
    turn = (max if rises else min)(own, key=lambda each: each[0])[1]
    return _NUMBER_WORDS.get(turn.number, "")


def _span(midis: Sequence[int]) -> int:
    return max(midis) - min(midis)


def _built_on(step: int, index: int, notes: Sequence[EtudeNote]) -> str:
    """The tone a chord's run is built on, in words; empty for the root."""
    own = [note for note in notes if note.chord == index and note.degree]
    degrees = [note.degree for note in own if note.degree]
    ends = {degree.number for degree in (*degrees[:1], *degrees[-1:])}
    if len(degrees) < 3 or 1 in ends:
        return ""
    lowest = min(own, key=lambda note: note.pitch.midi if note.pitch else 0)
    base = own[0] if step == 4 else lowest  # a scale may dip below the tone it runs from
    number = base.degree.number if base.degree else 1
    return "" if number == 1 else _NUMBER_WORDS.get(number, "")
