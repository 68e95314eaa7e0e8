"""What would be told to players who need not be told anything? Read from notes, without sound.

Source: six solos note by note, from the tables derived by the authors of the jazzodata
repository (commit 0dc98cf, MIT).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import cache

import pytest

from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judge import LAID_FINDERS
from halfstep.feedback.laid_take import laid_take
from halfstep.harmony.analysis import analyse
from halfstep.harmony.line_over_chords import LineNote
from halfstep.level import Level
from harmony.test_outline import solo_and_chart
from solos import needs_tables, rows
from typed_takes import take_of

CRAFT = {
    FindingKind.APPROACH,
    FindingKind.ENCLOSURE,
    FindingKind.ANTICIPATION,
    FindingKind.BLUE_NOTE,
}
TOLD = 0.6
"""Nothing less sure is told to a student."""


@cache
def told_to_masters() -> tuple[int, tuple[Finding, ...]]:
    """The bars of the solos over chords, and what is found in them."""
    solos: dict[str, list[dict[str, str]]] = defaultdict(list)
    for row in rows("wjd_sample_solos_notes.csv"):
        if int(row["bar"]) >= 1:
            solos[row["melid"]].append(row)
    bars, findings = 0, []
    for solo in solos.values():
        line, chart = solo_and_chart(solo)
        if all(row["chord"] == "NC" for row in solo):
            continue
        take = take_of(as_played(line), analyse(chart), level=Level.ADVANCED)
        taken = laid_take(take)
        bars += len(chart.form)
        findings += [finding for finder in LAID_FINDERS for finding in finder(taken)]
    return bars, tuple(findings)


def as_played(line: list[LineNote]) -> list[LineNote]:
    """Each note until the next one, two beats at most, on places that are counted."""
    onsets = [note.onset for note in line] + [line[-1].onset + 1]
    return [
        note._replace(beats=min(2.0, max(0.125, float(after - note.onset))))
        for note, after in zip(line, onsets[1:], strict=True)
    ]


@pytest.mark.slow
@needs_tables
def test_craft_is_named_often_and_never_as_a_fault() -> None:
    bars, findings = told_to_masters()
    counts = Counter(finding.kind for finding in findings if finding.kind in CRAFT)
    assert set(counts) == CRAFT
    assert counts[FindingKind.APPROACH] > bars / 8
    assert not any(finding.fault for finding in findings if finding.kind in CRAFT)


@needs_tables
def test_hardly_a_fault_is_told() -> None:
    """In a chorus of 32 bars three at most that a student would hear of, and none for sure."""
    bars, findings = told_to_masters()
    faults = [finding for finding in findings if finding.fault]
    assert sum(finding.certainty >= TOLD for finding in faults) <= 3 * bars / 32
    assert sum(finding.certainty >= 0.9 for finding in faults) <= 0.1 * bars / 32


@needs_tables
@pytest.mark.parametrize("kind", [FindingKind.RESTART])
def test_no_master_begins_each_chord_again(kind: FindingKind) -> None:
    assert not any(finding.kind is kind for finding in told_to_masters()[1])
