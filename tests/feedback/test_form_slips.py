"""Octave, transposition and slips of the form: told once, and the rest judged as it was meant.

Common practice, no source. Solos of good players are told nothing of the kind.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from played_takes import CHARTS, PlayedTone, line_of, moved, played, take_of

from halfstep.errors import ReadError
from halfstep.etude.steps import STEPS
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.form_slips import take_out_slips
from halfstep.feedback.judge import judge
from halfstep.feedback.meant_pitch import read_right
from halfstep.harmony.analysis import analyse
from master_solos import master_solos, needs_masters
from typed_charts import read_chart_text

NAMES = [step.name for step in STEPS]
OF_THE_WHOLE = {FindingKind.OCTAVE, FindingKind.TRANSPOSITION, FindingKind.FORM_SLIP}


@pytest.mark.parametrize("step", NAMES)
@pytest.mark.parametrize("semitones", [12, -12, 3, -2, 5])
def test_a_written_line_in_another_octave_or_key_is_told_once(step: str, semitones: int) -> None:
    analysis, line = line_of(step, "evening class")
    tones = [replace(t, midi=t.midi + semitones) for t in played(analysis, line, spread=0.03)]
    feedback = judge(take_of(tones, analysis, line=line))
    of_whole = [f for f in feedback.findings if f.kind in OF_THE_WHOLE]
    kind = FindingKind.TRANSPOSITION if semitones % 12 else FindingKind.OCTAVE
    assert [(f.kind, f.fault, f.amount) for f in of_whole] == [
        (kind, bool(semitones % 12), 100 * semitones)
    ]
    assert not [f for f in feedback.findings if f.kind is FindingKind.CHANGED]


@pytest.mark.slow
@pytest.mark.parametrize("semitones", [0, 2, 3, 7, 9, 10])
def test_another_transposition_is_heard_over_chords_alone(semitones: int) -> None:
    counts: Counter[bool] = Counter()
    for step in ("one-line", "cells", "turning-scale", "chorus", "arpeggio"):
        for chart in CHARTS:
            analysis, line = line_of(step, chart)
            tones = played(analysis, line, passes=2, spread=0.03)
            take = take_of([replace(t, midi=t.midi + semitones) for t in tones], analysis)
            amounts = [f.amount for f in judge(take).findings if f.kind in OF_THE_WHOLE]
            wanted = [100 * ((semitones + 5) % 12 - 5)] if semitones else []
            counts[[a % 1200 for a in amounts if a] == [w % 1200 for w in wanted]] += 1
    assert counts[True] >= 0.9 * counts.total()
    assert semitones or not counts[False]


@pytest.mark.parametrize("figure", [(0, 7, 5, 7), (0, 7, 0, 7), (0, 0, 0, 0), (0, 7, 2, 7)])
def test_roots_and_fifths_alone_do_not_say_that_a_part_is_misread(figure: tuple[int, ...]) -> None:
    for text in CHARTS.values():
        analysis = analyse(read_chart_text(text))
        roots = [(c.span, 60 + c.span.symbol.root.pitch_class) for c in analysis.chords]
        tones = [
            PlayedTone(float(span.start) + place / 2, 0.4, root + rise)
            for span, root in roots
            for place, rise in enumerate(figure)
        ]
        findings = judge(take_of(tones, analysis)).findings
        assert not [f for f in findings if f.kind is FindingKind.TRANSPOSITION]


@pytest.mark.slow
@pytest.mark.parametrize("bars", [-2, -1, 1, 2])
def test_a_slip_of_a_written_line_is_told_once(bars: int) -> None:
    for step in ("one-line", "arpeggio", "guide-tones", "chorus", "echo"):
        analysis, line = line_of(step, "twelve bars")
        tones = played(analysis, line, passes=2, spread=0.02)
        middle = len(tones) // 2
        early = -4 * bars if bars < 0 else 0
        kept = [tone for tone in tones[:middle] if tone.onset < tones[middle].onset - early - 0.3]
        slipped = kept + moved(tones, middle, 4.0 * bars)[middle:]
        feedback = judge(take_of(slipped, analysis, line=line))
        slips = [f for f in feedback.findings if f.kind is FindingKind.FORM_SLIP]
        assert [(f.bars, f.fault) for f in slips] == [(bars, True)]
        assert not [f for f in feedback.findings if f.kind is FindingKind.CHANGED]


def test_a_slip_is_heard_over_chords_alone() -> None:
    analysis, line = line_of("arpeggio-in-rhythm", "twelve bars")
    tones = moved(played(analysis, line, passes=2), 40, 4.0)
    feedback = judge(take_of(tones, analysis))
    slips = [f for f in feedback.findings if f.kind is FindingKind.FORM_SLIP]
    assert [slip.bars for slip in slips] == [1]


@pytest.mark.slow
@pytest.mark.parametrize("step", NAMES)
def test_who_is_in_the_right_bar_is_told_of_no_slip(step: str) -> None:
    for chart in CHARTS:
        analysis, line = line_of(step, chart)
        feedback = judge(take_of(played(analysis, line, passes=2, spread=0.03), analysis))
        assert not [f for f in feedback.findings if f.kind in OF_THE_WHOLE], chart


@needs_masters
@pytest.mark.slow
def test_good_players_are_not_told_that_they_slipped_or_misread() -> None:
    """One in a hundred may be: what they play outside can fit another bar better."""
    counts: Counter[bool] = Counter()
    for solo in master_solos():
        try:
            analysis = analyse(solo.chart)
        except ReadError:  # a solo over nothing but N.C.
            continue
        take = take_of([PlayedTone(*note) for note in solo.notes], analysis, bpm=solo.tempo_bpm)
        take, of_pitch = read_right(take)
        counts[bool(of_pitch or take_out_slips(take)[1])] += 1
    assert counts[True] <= 0.02 * counts.total()
