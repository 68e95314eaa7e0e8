"""Phrases, rests, rhythms, range and figures: what is planted is told, and no master is told it.

Source: 76 solos beside the repository (tables of the jazzodata repository, MIT).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from played_takes import PlayedTone, line_of, played, take_of

from halfstep.errors import ReadError
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.phrasing import phrasing_findings
from halfstep.harmony.analysis import analyse
from halfstep.level import Level
from master_solos import master_solos, needs_masters

ANALYSIS, CHORUS = line_of("chorus", "twelve bars")
TONES = played(ANALYSIS, CHORUS, passes=2)
LEVELS = tuple(Level)


def told(tones: list[PlayedTone], level: Level, *, instrument: str = "alto-sax") -> set[str]:
    take = take_of(tones, ANALYSIS, instrument=instrument)
    return {str(finding.kind) for finding in phrasing_findings(replace(take, level=level))}


def eighths(midis: list[int], count: int) -> list[PlayedTone]:
    return [PlayedTone(n / 2, 0.45, midis[n % len(midis)]) for n in range(count)]


@pytest.mark.parametrize("level", LEVELS)
def test_a_written_chorus_is_phrased_well(level: Level) -> None:
    assert told(TONES, level) == set()


@pytest.mark.parametrize("level", LEVELS)
def test_two_choruses_of_eighths_without_a_breath(level: Level) -> None:
    midis = [60, 62, 64, 65, 67, 69, 71, 72, 74, 72, 70, 69, 67, 64, 62, 61, 59]
    assert told(eighths(midis, 192), level) == {"long-phrase", "no-rest", "few-rhythms"}


def test_who_does_not_breathe_is_not_told_to() -> None:
    kinds = told(eighths([60, 64, 67, 72, 71, 69, 65], 192), Level.ADVANCED, instrument="guitar")
    assert FindingKind.LONG_PHRASE not in kinds


@pytest.mark.parametrize("level", LEVELS)
def test_three_notes_are_a_narrow_range(level: Level) -> None:
    tones = [replace(tone, midi=60 + tone.midi % 3) for tone in TONES]
    assert FindingKind.NARROW_RANGE in told(tones, level)


@pytest.mark.parametrize("level", LEVELS)
def test_one_figure_through_all_chords(level: Level) -> None:
    figure = [(0.0, 0), (0.5, 2), (1.0, 4), (2.0, 7)]
    tones = [
        PlayedTone(4 * bar + at, 0.45, 55 + (5 * bar) % 12 + rise)
        for bar in range(24)
        for at, rise in figure
    ]
    assert FindingKind.REPEATED_FIGURE in told(tones, level)


def test_a_long_phrase_stands_at_its_first_bar() -> None:
    tones = [*TONES[:4], *(replace(t, onset=t.onset + 16) for t in eighths([60, 63, 65, 70], 64))]
    take = take_of(tones, ANALYSIS)
    (finding,) = [f for f in phrasing_findings(take) if f.kind is FindingKind.LONG_PHRASE]
    assert (finding.place.bar, finding.place.beat, finding.bars) == (5, 1.0, 8)
    assert finding.until is not None
    assert (finding.until.chorus, finding.until.bar) == (1, 12)


def test_a_written_line_is_phrased_as_its_step_is() -> None:
    analysis, line = line_of("scale", "twelve bars")
    take = take_of(played(analysis, line, passes=2), analysis, line=line)
    assert list(phrasing_findings(take)) == []


@needs_masters
@pytest.mark.slow
def test_no_master_is_told_how_to_phrase() -> None:
    for solo in master_solos():
        try:
            analysis = analyse(solo.chart)
        except ReadError:  # a solo over nothing but N.C.
            continue
        tones = [PlayedTone(*note) for note in solo.notes]
        take = replace(take_of(tones, analysis, bpm=solo.tempo_bpm), level=Level.ADVANCED)
        assert list(phrasing_findings(take)) == [], solo.number
