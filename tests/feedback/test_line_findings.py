"""Note by note against an etude: planted faults are found, and clean playing has none.

Common practice, no source. The steps and charts are our own.
"""

from __future__ import annotations

import itertools
import random
from collections import Counter
from dataclasses import replace

import pytest
from played_takes import CHARTS, PlayedTone, line_of, played, take_of

from halfstep.etude.steps import STEPS
from halfstep.feedback.doubts import Doubt
from halfstep.feedback.finding_signs import marked_staff
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judge import judge
from halfstep.feedback.line_findings import line_share
from halfstep.feedback.written_line import sounding_places
from halfstep.meter import Feel

NAMES = [step.name for step in STEPS]
KINDS = [FindingKind.MISSED, FindingKind.ADDED, FindingKind.CHANGED, FindingKind.LATE_NOTE]
LINE_KINDS = {*KINDS, FindingKind.FORM_SLIP, FindingKind.OCTAVE, FindingKind.TRANSPOSITION}


def told(tones: list[PlayedTone], step: str, chart: str) -> list[Finding]:
    analysis, line = line_of(step, chart)
    findings = judge(take_of(tones, analysis, line=line)).findings
    return [f for f in findings if f.kind in LINE_KINDS and f.certainty >= 0.6]


@pytest.mark.slow
@pytest.mark.parametrize("step", NAMES)
@pytest.mark.parametrize("chart", CHARTS)
def test_who_plays_what_is_written_is_told_nothing(step: str, chart: str) -> None:
    analysis, line = line_of(step, chart)
    tones = played(analysis, line, passes=3, swing=0.6, spread=0.03)
    findings = judge(take_of(tones, analysis, line=line, feel=Feel.SWING)).findings
    assert [(f.kind, f.place) for f in findings if f.fault] == []


def planted(
    tones: list[PlayedTone], kind: FindingKind, place: int, rng: random.Random
) -> list[PlayedTone]:
    tone = tones[place]
    if kind is FindingKind.MISSED:
        return [*tones[:place], *tones[place + 1 :]]
    if kind is FindingKind.CHANGED:
        other = replace(tone, midi=tone.midi + rng.choice([-2, -1, 1, 2, 3]))
        return [*tones[:place], other, *tones[place + 1 :]]
    if kind is FindingKind.LATE_NOTE:
        late = replace(tone, onset=tone.onset + 0.25)
        return [*tones[:place], late, *tones[place + 1 :]]
    after = tones[place + 1]
    away = next(n for n in (5, 4, 3) if (tone.midi + n - after.midi) % 12)
    middle = PlayedTone((tone.onset + after.onset) / 2, 0.2, tone.midi + away)
    return [*tones[: place + 1], middle, *tones[place + 1 :]]


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_of_planted_faults_nineteen_in_twenty_are_found_and_named(kind: FindingKind) -> None:
    rng = random.Random(11)
    counts: Counter[str] = Counter()
    for step in NAMES:
        chart = rng.choice(sorted(CHARTS))
        analysis, line = line_of(step, chart)
        tones = played(analysis, line, passes=2, swing=0.62, spread=0.02, seed=5)
        for place in rng.sample(range(1, len(tones) - 1), 3):
            findings = told(planted(tones, kind, place, rng), step, chart)
            counts["planted"] += 1
            counts["found"] += [finding.kind for finding in findings].count(kind) == 1
            counts["false"] += sum(finding.kind is not kind for finding in findings)
    assert counts["found"] >= 0.95 * counts["planted"]
    assert counts["false"] <= 0.02 * counts["planted"]


@pytest.mark.parametrize("instrument", ["flute", "alto-sax", "clarinet", "trombone"])
def test_a_note_has_one_name_wherever_it_is_told(instrument: str) -> None:
    """In the findings, in the list of notes and on the page: every third note is another one."""
    analysis, line = line_of("one-line", "evening class", instrument=instrument)
    tones = played(analysis, line, passes=1)
    tones = [replace(t, midi=t.midi + (n % 5 - 2) * (n % 3 == 0)) for n, t in enumerate(tones)]
    feedback = judge(take_of(tones, analysis, line=line, instrument=instrument))
    names = {feedback.take.time_s(r.note.sounded): r.pitch for r in feedback.notes}
    played_notes = [f for f in feedback.findings if f.note and f.time_s in names]
    assert {FindingKind.CHANGED, FindingKind.OLD_NOTE_KEPT} & {f.kind for f in played_notes}
    changed = [f for f in played_notes if f.kind not in {FindingKind.LATE_NOTE, FindingKind.MISSED}]
    assert [f.note for f in changed] == [names[f.time_s] for f in changed]
    staff = marked_staff(feedback, title="take")
    written = [note.pitch for bar in staff.score.bars for note in bar.notes if note.pitch]
    assert [pitch for pitch, _ in itertools.groupby(written)] == [
        pitch for pitch, _ in itertools.groupby(roled.pitch for roled in feedback.notes)
    ]


def test_a_changed_note_is_named_as_the_player_reads_it() -> None:
    analysis, line = line_of("one-line", "evening class", instrument="alto-sax")
    tones = played(analysis, line)
    tones[20] = replace(tones[20], midi=tones[20].midi + 1)
    (finding,) = [f for f in judge(take_of(tones, analysis, line=line)).findings if f.etude_note]
    place = sounding_places(line)[20]
    written = line[place].pitch
    assert written is not None
    assert finding.note is not None
    assert finding.instead is not None
    assert finding.etude_note == place
    assert finding.instead.midi == written.midi + 9
    assert finding.note.midi == written.midi + 10


def test_a_long_stretch_left_out_is_told_once() -> None:
    analysis, line = line_of("one-line", "twelve bars")
    tones = played(analysis, line)
    (finding,) = told([t for t in tones if not 12 <= t.onset < 28], "one-line", "twelve bars")
    assert (finding.kind, finding.place.bar, finding.bars) == (FindingKind.MISSED, 4, 4)


def test_who_goes_back_and_starts_again_has_left_nothing_out() -> None:
    analysis, line = line_of("cells", "twelve bars")
    tones = played(analysis, line)
    again = [replace(tone, onset=tone.onset + 5.3) for tone in tones[16:]]
    findings = told([*tones[:24], *again], "cells", "twelve bars")
    assert {finding.kind for finding in findings} <= {FindingKind.FORM_SLIP}


def test_a_note_that_rings_on_is_not_told_as_missed() -> None:
    analysis, line = line_of("arpeggio-in-rhythm", "evening class")
    tones = played(analysis, line)
    pairs = itertools.pairwise(tones)
    repeat = next(place for place, (at, on) in enumerate(pairs) if at.midi == on.midi)
    held = replace(tones[repeat], beats=tones[repeat + 1].onset - tones[repeat].onset + 0.5)
    rung = [*tones[:repeat], held, *tones[repeat + 2 :]]
    assert told(rung, "arpeggio-in-rhythm", "evening class") == []


def test_a_note_left_out_stands_where_the_player_would_have_played_it() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line, swing=0.66, spread=0.0)
    place = next(n for n in range(8, len(tones)) if abs(tones[n].onset % 1 - 0.66) < 1e-6)
    take = take_of([*tones[:place], *tones[place + 1 :]], analysis, line=line, feel=Feel.SWING)
    missed = [f for f in judge(take).findings if f.kind is FindingKind.MISSED]
    assert [take.clock.beats(f.time_s) for f in missed] == pytest.approx([tones[place].onset])


def test_a_ghost_note_that_is_swallowed_is_not_missing() -> None:
    """It is barely sounded: who leaves it out has all of the line."""
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line, passes=1)
    take = take_of([*tones[:9], *tones[10:]], analysis, line=line)
    (missing,) = [f for f in judge(take).findings if f.kind is FindingKind.MISSED]
    assert missing.etude_note is not None
    ghosted = replace(take, ghosts=frozenset({line[missing.etude_note].onset}))
    judged = judge(ghosted)
    assert [f for f in judged.findings if f.kind is FindingKind.MISSED] == []
    share = line_share(judged.take)
    assert share is not None
    assert (share.right, share.written) == (len(tones) - 1, len(tones) - 1)


@pytest.mark.slow
def test_a_wrong_note_is_not_praised_as_craft() -> None:
    """A blue note in the place of the third is another note than the one that is written."""
    analysis, line = line_of("arpeggio", "twelve bars")
    tones = played(analysis, line)
    third = next(place for place, tone in enumerate(tones) if tone.midi % 12 == 2)
    tones[third] = replace(tones[third], midi=tones[third].midi - 1)
    findings = judge(take_of(tones, analysis, line=line)).findings
    onset_s = next(f.time_s for f in findings if f.kind is FindingKind.CHANGED)
    at_once = {f.kind for f in findings if f.time_s == onset_s}
    assert not at_once & {FindingKind.BLUE_NOTE, FindingKind.APPROACH, FindingKind.ENCLOSURE}


def test_nothing_is_sure_of_a_take_that_was_hard_to_hear() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line)
    take = take_of([*tones[:20], *tones[21:]], analysis, line=line)
    clipped = replace(take, doubts=(Doubt("it clips", is_total=False),))
    sure, unsure = ([f.certainty for f in judge(t).findings if f.fault] for t in (take, clipped))
    assert min(sure) > 0.9 > max(unsure)


def test_nothing_is_missed_where_a_loud_backing_covers_the_player() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line)
    take = take_of([*tones[:20], *tones[21:]], analysis, line=line)
    covered = replace(take, doubts=(Doubt("a band", is_total=False, covers=True),))
    open_kinds, covered_kinds = ({f.kind for f in judge(t).findings} for t in (take, covered))
    assert open_kinds - covered_kinds == {FindingKind.MISSED}


def test_who_is_bars_late_when_the_band_ends_has_left_nothing_out() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line, passes=2)
    late = [replace(tone, onset=tone.onset + 8) for tone in tones[len(tones) // 2 :]]
    kept = [tone for tone in (*tones[: len(tones) // 2], *late) if tone.onset < 64]
    take = replace(take_of(kept, analysis, line=line), end=70.0)
    kinds = [f.kind for f in judge(take).findings if f.fault]
    assert kinds == [FindingKind.FORM_SLIP]


def test_a_note_that_another_is_heard_through_is_less_surely_missed_than_a_silence() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line)
    place = next(n for n in range(8, 40) if tones[n - 1].midi != tones[n].midi)
    silent = [*tones[:place], *tones[place + 1 :]]
    through = replace(tones[place - 1], beats=tones[place + 1].onset - tones[place - 1].onset)
    held = [*tones[: place - 1], through, *tones[place + 1 :]]
    certainties = [
        f.certainty for tones in (silent, held) for f in told(tones, "one-line", "evening class")
    ]
    assert certainties == pytest.approx([0.97, 0.85], abs=0.02)


def test_a_note_beside_one_that_is_hardly_heard_is_less_surely_missed() -> None:
    analysis, line = line_of("one-line", "evening class")
    tones = played(analysis, line)
    kept = [*tones[:12], *tones[13:]]
    certainties = []
    for certainty in (0.99, 0.7):
        take = take_of(kept, analysis, line=line)
        sound = take.notes[11].sound
        assert sound is not None
        doubtful = replace(take.notes[11], sound=replace(sound, certainty=certainty))
        notes = (*take.notes[:11], doubtful, *take.notes[12:])
        findings = judge(replace(take, notes=notes)).findings
        certainties += [f.certainty for f in findings if f.kind is FindingKind.MISSED]
    sure, unsure = certainties
    assert sure > 0.9 > unsure
