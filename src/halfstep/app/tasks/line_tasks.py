"""A line is written over a kept chart, edited, undone, locked and written anew.

What is undone is kept until something else is done. Two pages that change one line at once do so
one after the other.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

from halfstep.app.tasks.chart_tasks import kept_sheet
from halfstep.data.line_json import edit_data, read_edit
from halfstep.errors import BriefError
from halfstep.etude.line_edit import LineChange, LineRewriting
from halfstep.part.transposition import in_key
from halfstep.progression.key import parse_key
from halfstep.school.data_folder import LINES_FOLDER
from halfstep.school.database import School
from halfstep.school.kept_charts import find_chart
from halfstep.school.kept_lines import KeptLine, add_line, change_line, find_line
from halfstep.services.band_fields import style_named
from halfstep.services.edit_line import EditLine, LineReply, edit_line
from halfstep.services.line_versions import LineVersions, line_versions
from halfstep.services.request_fields import bars_of
from halfstep.services.stored_requests import read_request, request_text
from halfstep.services.write_etude import WriteEtude, write_one_etude

MOST_TIMES = 24
"""How often one edit is made at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginLine:
    """A request for a line over a kept chart.

    Attributes
    ----------
    chart : int
    step, level : str
    instrument : str
        Empty for concert pitch.
    key : str
        Concert key to move the chart to; empty leaves it where it is.
    tempo_bpm : float or None
    style : str
        Whose feel the line has; empty takes the chart's.
    seed : int
    """

    chart: int
    step: str
    level: str = "intermediate"
    instrument: str = ""
    key: str = ""
    tempo_bpm: float | None = None
    style: str = ""
    seed: int = 1


@dataclass(frozen=True, slots=True)
class OpenLine:
    """A line that is kept, as it is after its edits.

    Attributes
    ----------
    kept : KeptLine
    reply : LineReply
    undone : tuple of LineChange
        What can be done again, the next first.
    locked : tuple of int
        The bars that stand while the rest is written anew.
    refused : str
        Why what was asked for could not be done; empty where it was.
    """

    kept: KeptLine
    reply: LineReply
    undone: tuple[LineChange, ...]
    locked: tuple[int, ...]
    refused: str = ""

    @property
    def mark(self) -> str:
        """Another one when the line is another."""
        return sha256(self.kept.edits.encode()).hexdigest()[:12]

    @property
    def request(self) -> WriteEtude:
        """What was asked for when the line was written."""
        request = read_request(self.kept.request)
        assert isinstance(request, WriteEtude)
        return request


@dataclass(frozen=True, slots=True)
class HandedLine:
    """A line as a lesson takes it.

    Attributes
    ----------
    path : Path
        Of its file, below the school's folder.
    key : str
        The concert key that it is in.
    """

    path: Path
    key: str


def begin_line(school: School, request: BeginLine) -> int:
    """Write a line and keep it; its number.

    Raises
    ------
    NoEtude
        When no line keeps the rules; it may offer a request that works.
    HalfstepError
        When a field makes no sense, or there is no such chart.
    """
    with school.reading() as connection:
        sheet = kept_sheet(find_chart(connection, request.chart))
    asked = WriteEtude(
        in_key(sheet, parse_key(request.key)) if request.key else sheet,
        request.step,
        request.instrument or None,
        request.level,
        request.tempo_bpm,
        str(style_named(request.style).feel) if request.style else None,
        seed=request.seed,
    )
    return keep_line(school, request.chart, asked)


def keep_line(school: School, chart: int, request: WriteEtude) -> int:
    """Write what was asked for and keep it; the number of the line.

    Raises
    ------
    NoEtude
    HalfstepError
    """
    etude = write_one_etude(request).file(".json").data.decode()
    with school.writing() as connection:
        find_chart(connection, chart)
        return add_line(connection, chart, request=request_text(request), etude=etude)


# A kept line


def open_line(school: School, number: int) -> OpenLine:
    """A line as it is now.

    Raises
    ------
    NoSuchThing
    """
    with school.reading() as connection:
        kept = find_line(connection, number)
    return _opened(kept)


def _opened(kept: KeptLine, refused: str = "") -> OpenLine:
    reply = edit_line(EditLine(kept.etude, _edits(kept.edits)))
    bars = bars_of("locked_bars", kept.locked or None, reply.etude.analysis.chart)
    return OpenLine(kept, reply, _edits(kept.undone), tuple(sorted(bars)), refused)


def _edits(text: str) -> tuple[LineChange, ...]:
    return tuple(map(read_edit, json.loads(text))) if text else ()


def _text(edits: tuple[LineChange, ...]) -> str:
    return json.dumps(list(map(edit_data, edits))) if edits else ""


Doing = Callable[[OpenLine], OpenLine]
"""The line as it is to be, for the line as it is."""


def _changed(school: School, number: int, do: Doing) -> OpenLine:
    """Do something to a line and keep it; done again where another page was quicker."""
    for _ in range(_MOST_ROUNDS):
        before = open_line(school, number)
        line = do(before)
        if replace(line, refused="") == before:
            return line
        with school.writing() as connection:
            kept = change_line(
                connection,
                line.kept,
                edits=_text(line.reply.edits),
                undone=_text(line.undone),
                locked=_spans(line.locked),
            )
        if kept:
            return replace(line, kept=kept)
    raise BriefError("this line is changed in another window just now; try again")


_MOST_ROUNDS = 5


def edit_kept_line(school: School, number: int, edit: LineChange, times: int = 1) -> OpenLine:
    """Edit a line, once or several times alike; what cannot be done is said.

    Raises
    ------
    NoSuchThing
    """

    def do(line: OpenLine) -> OpenLine:
        edits = (*line.reply.edits, *(edit,) * max(1, min(times, MOST_TIMES)))
        reply = edit_line(EditLine(line.kept.etude, edits))
        undone = line.undone if reply.edits == line.reply.edits else ()
        return replace(line, reply=reply, undone=undone, refused=reply.refused)

    return _changed(school, number, do)


def undo_line(school: School, number: int) -> OpenLine:
    """Take the last edit back.

    Raises
    ------
    NoSuchThing
    """

    def do(line: OpenLine) -> OpenLine:
        edits = line.reply.edits
        if not edits:
            return replace(line, refused="nothing was done to this line that could be undone")
        reply = edit_line(EditLine(line.kept.etude, edits[:-1]))
        return replace(line, reply=reply, undone=(edits[-1], *line.undone))

    return _changed(school, number, do)


def redo_line(school: School, number: int) -> OpenLine:
    """Do again what was undone last.

    Raises
    ------
    NoSuchThing
    """

    def do(line: OpenLine) -> OpenLine:
        if not line.undone:
            return replace(line, refused="nothing was undone that could be done again")
        edits = (*line.reply.edits, line.undone[0])
        reply = edit_line(EditLine(line.kept.etude, edits))
        return replace(line, reply=reply, undone=line.undone[1:], refused=reply.refused)

    return _changed(school, number, do)


def lock_bar(school: School, number: int, bar: int) -> OpenLine:
    """Let a bar stand while the rest is written anew, or no longer.

    Raises
    ------
    BriefError
        When the line has no such bar.
    NoSuchThing
    """

    def do(line: OpenLine) -> OpenLine:
        bars = bars_of("locked_bars", str(bar), line.reply.etude.analysis.chart)
        return replace(line, locked=tuple(sorted(bars.symmetric_difference(line.locked))))

    return _changed(school, number, do)


def rewrite_line(school: School, number: int, seed: int | None = None) -> OpenLine:
    """Write what is not locked anew, with a seed or the next one.

    Raises
    ------
    NoSuchThing
    """

    def do(line: OpenLine) -> OpenLine:
        seeds = [edit.seed for edit in line.reply.edits if isinstance(edit, LineRewriting)]
        following = max([line.reply.etude.brief.seed, *seeds]) + 1
        change = LineRewriting(following if seed is None else seed, line.locked)
        reply = edit_line(EditLine(line.kept.etude, (*line.reply.edits, change)))
        undone = line.undone if reply.refused else ()
        return replace(line, reply=reply, undone=undone, refused=reply.refused)

    return _changed(school, number, do)


def versions_of(line: OpenLine) -> tuple[LineReply, ...]:
    """Other versions of a line, around the bars that stand.

    Raises
    ------
    BriefError
        When no line keeps the rules around them.
    """
    locked = _spans(line.locked) or None
    return line_versions(LineVersions(line.kept.etude, line.reply.edits, locked))


def line_for_players(school: School, number: int) -> HandedLine:
    """A line as a file that a lesson can take: as it is now, and as it stays for who gets it.

    Raises
    ------
    NoSuchThing
    """
    line = open_line(school, number)
    plain = replace(line.reply, etude=replace(line.reply.etude, ending=None))
    path = Path(LINES_FOLDER) / f"{number}-{line.mark}.musicxml"
    school.files.put(path.as_posix(), plain.written.file(".musicxml").data)
    return HandedLine(path, line.reply.etude.analysis.home.ascii)


def _spans(bars: tuple[int, ...]) -> str:
    """Bars as they are typed: ``3,5-6``.

    >>> _spans((3, 5, 6, 9))
    '3,5-6,9'
    """
    starts = [bar for before, bar in pairwise((-1, *bars)) if bar != before + 1]
    ends = [bar for bar, after in pairwise((*bars, -1)) if after != bar + 1]
    return ",".join(
        str(low) if low == high else f"{low}-{high}" for low, high in zip(starts, ends, strict=True)
    )
