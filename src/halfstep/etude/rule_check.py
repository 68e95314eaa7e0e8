"""Does an etude keep the rules of its step? Asked of the finished notes.

The teacher's own notes, which the brief pins, break no rule. A rule for a few notes in a
row is not asked where one of them is pinned, one for a whole line not of the bars that
stand and those beside them; what a joint could not keep is told by `joint_breaches`.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate
from typing import NamedTuple

import numpy as np

from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.kept_bars import pinned_bars
from halfstep.etude.palette import Midis
from halfstep.etude.rules import LineRule, LocalRule
from halfstep.etude.slots import Slot
from halfstep.etude.written_etude import Etude


class Breach(NamedTuple):
    """A rule that an etude breaks, and where."""

    rule: str
    note: EtudeNote


def breaches(etude: Etude, slots: Sequence[Slot]) -> list[Breach]:
    """Every rule that the etude breaks; empty for a good one.

    Parameters
    ----------
    etude : Etude
    slots : sequence of Slot
        The places the notes were written for, one for each note.
    """
    local = _local_breaches(etude, slots)
    return line_breaches(etude) + [breach for breach, standing in local if not any(standing)]


def joint_breaches(etude: Etude, slots: Sequence[Slot]) -> list[Breach]:
    """Where a line could not keep a rule into the notes that stand, or out of them."""
    local = _local_breaches(etude, slots)
    return [breach for breach, standing in local if any(standing) and not all(standing)]


def line_breaches(etude: Etude) -> list[Breach]:
    """The breaches of the rules for a whole line alone."""
    near = _near_pins(etude)
    chords = etude.analysis.chords
    notes = (n._replace(pitch=None) if chords[n.chord].silent else n for n in etude.notes)
    etude = replace(etude, notes=tuple(notes))  # the teacher's over no chord: no rule says how
    return [
        Breach(rule.text, note)
        for rule in etude.step.every_rule
        if isinstance(rule, LineRule)
        for note in rule.breaches(etude)
        if not any(start <= note.onset < end for start, end in near)
    ]


def _near_pins(etude: Etude) -> list[tuple[Fraction, Fraction]]:
    """The bars that stand, each with the bars beside it."""
    bars = [(start, start + bar.beats) for bar, start in etude.analysis.chart.placed()]
    near = []
    for low, high in pinned_bars(etude.analysis, etude.brief.pinned):
        within = [n for n, (start, end) in enumerate(bars) if start < high and low < end]
        near.append((bars[max(0, within[0] - 1)][0], bars[min(within[-1] + 1, len(bars) - 1)][1]))
    return near


def _local_breaches(etude: Etude, slots: Sequence[Slot]) -> Iterator[tuple[Breach, list[bool]]]:
    """Every broken rule for notes in a row, and which of those notes stand."""
    line = np.array([note.pitch.midi if note.pitch else 0 for note in etude.notes])
    sounding = list(accumulate(etude.notes, lambda n, note: n + 1 if note.pitch else 0, initial=0))
    for rule in etude.step.every_rule:
        if not isinstance(rule, LocalRule):
            continue
        ends = [end for end in range(rule.width, len(slots) + 1) if sounding[end] >= rule.width]
        for end in ends if not rule.asks_notes_alone else _broken_ends(rule, line, ends):
            window = slots[end - rule.width : end]
            if rule.applies(window) and not rule.holds(window, list(line[end - rule.width : end])):
                yield Breach(rule.text, etude.notes[end - 1]), [slot.stands for slot in window]


def _broken_ends(rule: LocalRule, line: Midis, ends: Sequence[int]) -> list[int]:
    """Of the places after notes in a row those where a rule for the notes alone is broken."""
    after = np.array(ends, int)
    holds = rule.holds((), [line[after - back] for back in range(rule.width, 0, -1)])
    return [int(end) for end in after[~holds]]
