"""The whole of a take judged: each finder is one function in one list."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from halfstep.feedback.findings import Finding
from halfstep.feedback.form_slips import take_out_slips
from halfstep.feedback.heard_changes import HeardChange, change_findings, heard_changes
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.line_findings import line_findings
from halfstep.feedback.meant_pitch import read_right
from halfstep.feedback.phrasing import phrasing_findings
from halfstep.feedback.written_line import read_by_line

Finder = Callable[[JudgedTake], Iterable[Finding]]

FINDERS: tuple[Finder, ...] = (change_findings, line_findings, phrasing_findings)
"""All that look for something in a take that is read right."""


@dataclass(frozen=True, slots=True)
class Feedback:
    """What there is to say of a take.

    Attributes
    ----------
    take : JudgedTake
        As it was judged: a wrong transposition read right, slips of the form taken out.
    findings : tuple of Finding
        In order of time.
    changes : tuple of HeardChange
        Every change of every pass.
    """

    take: JudgedTake
    findings: tuple[Finding, ...]
    changes: tuple[HeardChange, ...]


def judge(take: JudgedTake) -> Feedback:
    """Everything that can be said of a take, in order of time."""
    take, of_pitch = read_right(take)
    take, of_place = take_out_slips(read_by_line(take))
    findings = [finding for finder in FINDERS for finding in finder(take)]
    told = sorted((*of_pitch, *of_place, *findings), key=lambda finding: finding.time_s)
    return Feedback(take, tuple(told), heard_changes(take))
