"""A teacher's line as a step, so that it is opened, moved and heard as an etude is."""

from __future__ import annotations

from dataclasses import replace

from halfstep.etude.step import Step
from halfstep.etude.steps import find_step
from halfstep.etude.teachers_line import EXAMPLE

TEACHERS_STEP = replace(
    find_step("one-line"),
    name=EXAMPLE.name,
    title=EXAMPLE.title,
    task=EXAMPLE.task,
    sentences=EXAMPLE.sentences,
    rules=(),
    stream=0,
)
"""It keeps no rules: the line is the teacher's. Where one is written anew it is one line."""


def step_or_line(name: str) -> Step:
    """The step of a name, the teacher's line among them.

    Raises
    ------
    BriefError
        When there is none.
    """
    return TEACHERS_STEP if name == EXAMPLE.name else find_step(name)
