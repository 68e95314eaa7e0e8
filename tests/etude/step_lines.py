"""Lines of one step: written over a chart, or typed by hand and asked which rules they break."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from briefs_over_charts import BriefOverChart, brief_over, midis_of
from typed_lines import typed

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.rule_check import breaches
from halfstep.etude.rules import LocalRule
from halfstep.etude.sentences import PartLine, Sentence
from halfstep.etude.slots import Slot
from halfstep.etude.step import Step
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from halfstep.part.transposed_part import part_for

CADENCE = "key: C\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | % |"
LASTING = "key: C\n| Cmaj7 | % | Am7 | % | Dm7 | % | G7 | % |"
HALVES = "key: F\n| Gm7 C7 | Fmaj7 D7 | Gm7 C7 | Am7 D7 |"
THREES = "meter: 3/4\nkey: G\n| Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7b9 | Am7 | D7 |"
SIX_EIGHT = "meter: 6/8\nkey: Dm\n| Dm | Bbmaj7 | Gm7 A7 | Dm7 |"
CHARTS = (CADENCE, LASTING, HALVES, THREES, SIX_EIGHT)


@cache
def line_of(step: str, request: BriefOverChart) -> Etude:
    """The etude of a step, written once for all tests."""
    return write_etude(find_step(step), request.analysis, request.brief)


def notes_of(step: str, chart: str, **wanted: object) -> list[EtudeNote]:
    """The notes that sound in an etude."""
    etude = line_of(step, brief_over(chart, **wanted))  # type: ignore[arg-type]
    return [note for note in etude.notes if note.pitch]


def relative_outline_of(etude: Etude) -> float:
    """How well a line tells its chords, over the plain arpeggio; 0 where it cannot be said."""
    notes = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    return outline(notes, etude.analysis.chart).whole.relative or 0.0


def midi(note: EtudeNote) -> int:
    assert note.pitch is not None
    return note.pitch.midi


def by_bar(notes: Sequence[EtudeNote], bar_beats: int = 4) -> dict[int, list[EtudeNote]]:
    """The notes that begin in each bar of a chart of equal bars, from bar 1."""
    bars: dict[int, list[EtudeNote]] = {}
    for note in notes:
        bars.setdefault(int(note.onset // bar_beats) + 1, []).append(note)
    return bars


def broken_rules(step: str, chart: str, line: str, **wanted: object) -> set[str]:
    """The rules that a line typed by hand breaks."""
    etude, slots = typed(step, chart, line, **wanted)  # type: ignore[arg-type]
    return {breach.rule for breach in breaches(etude, slots)}


def rule_of(step: Step | str, text: str) -> LocalRule:
    """The rule for a few notes whose words begin so."""
    chosen = find_step(step) if isinstance(step, str) else step
    rules = [rule for rule in chosen.every_rule if rule.text.startswith(text)]
    assert len(rules) == 1, text
    assert isinstance(rules[0], LocalRule)
    return rules[0]


def keeps(rule: LocalRule, slots: Sequence[Slot], names: str) -> bool:
    """Whether notes in those places keep a rule that is asked of them."""
    assert rule.applies(slots)
    return bool(rule.holds(slots, [np.asarray(midi) for midi in midis_of(names)]))


def as_read(etude: Etude) -> PartLine:
    """The line as its player reads it."""
    part = part_for(etude.analysis, etude.brief.instrument)
    sounding = tuple(note for note in etude.notes if note.pitch)
    return PartLine(etude, part, sounding, tuple(etude.analysis.chart.placed()))


def words_on(sentence: Sentence, step: str, chart: str, line: str, **wanted: object) -> str:
    """What a sentence says of a line typed by hand."""
    etude, slots = typed(step, chart, line, **wanted)  # type: ignore[arg-type]
    notes = [_known(note, slot) for note, slot in zip(etude.notes, slots, strict=True)]
    return sentence(as_read(replace(etude, notes=tuple(notes))))


def _known(note: EtudeNote, slot: Slot) -> EtudeNote:
    """A note with its degree, and with the mark of one that is new with its chord."""
    if note.pitch is None or slot.palette is None:
        return note
    degree = slot.palette.degrees.get(midi(note) % 12)
    return note._replace(degree=degree, changing=bool(slot.palette.changing[midi(note)]))
