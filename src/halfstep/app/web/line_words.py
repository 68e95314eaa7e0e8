"""What is a line called in a list?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from halfstep.app.web.page_words import gettext
from halfstep.etude.steps import find_step
from halfstep.instruments import find_instrument
from halfstep.school.kept_lines import KeptLine
from halfstep.services.stored_requests import read_request
from halfstep.services.write_etude import WriteEtude


@dataclass(frozen=True, slots=True)
class LineInWords:
    """A line in a list: its step, and for whom."""

    number: int
    words: str
    changed_at: datetime | None


def line_in_words(line: KeptLine) -> LineInWords:
    """A kept line as a list shows it, without opening it."""
    request = read_request(line.request)
    assert isinstance(request, WriteEtude)
    player = find_instrument(request.instrument or "concert")
    words = gettext(
        "%(step)s, for %(instrument)s, %(level)s",
        step=gettext(find_step(request.step).title),
        instrument=gettext(player.label),
        level=gettext(request.level),
    )
    return LineInWords(line.number, words, line.changed_at)
