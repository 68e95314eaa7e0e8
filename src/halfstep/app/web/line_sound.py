"""The line and each part of the band alone, made once for a line as it stands."""

from __future__ import annotations

from functools import lru_cache
from threading import Lock

from starlette.responses import Response

from halfstep.app.tasks.line_tasks import OpenLine, open_line
from halfstep.app.web.visit import Visit
from halfstep.errors import NoSuchThing

PARTS = ("line", "drums", "bass", "chords")
_KEPT = 6
"""Lines whose parts are kept in memory, some 500 kB each."""
_making = Lock()


class _Heard:
    """A line by what it is, so that its parts are made once."""

    def __init__(self, line: OpenLine) -> None:
        self.line = line
        self._is = (line.kept.number, line.kept.etude, line.kept.edits)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Heard) and other._is == self._is

    def __hash__(self) -> int:
        return hash(self._is)


@lru_cache(_KEPT)
def _parts(heard: _Heard) -> dict[str, bytes]:
    return {name: file.data for name, file in heard.line.reply.written.parts_alone().items()}


def hear_part(visit: Visit) -> Response:
    """A part of a line's sound alone.

    Raises
    ------
    NoSuchThing
        When it has no such part.
    """
    name = visit.word("part")
    if name not in PARTS:
        raise NoSuchThing(f"a line has no part {name}; it has {', '.join(PARTS)}")
    line = open_line(visit.school, visit.number("line"))
    with _making:  # four are asked for at once
        parts = _parts(_Heard(line))
    if name not in parts:
        raise NoSuchThing(f"nothing plays the {name} over this chart")
    return Response(parts[name], media_type="audio/mp4")
