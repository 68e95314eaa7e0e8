"""The notes that were heard of a recording so far, for the page that records it."""

from __future__ import annotations

from starlette.responses import JSONResponse, Response

from halfstep.app.tasks.early_tasks import notes_so_far
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError

MOST_NOTES = 9
"""Digits of the number of notes that are left out."""


def show_heard_notes(visit: Visit) -> Response:
    """Those after the first so many, in the player's written pitch."""
    student = visit.player()
    after = visit.text("after", "0")
    if not after.isascii() or not after.isdecimal() or len(after) > MOST_NOTES:
        raise BriefError("`after`: send how many notes are there already, a whole number")
    notes = notes_so_far(visit.school, student, visit.word("key"), after=int(after))
    shown = [{"note": one.name, "at_s": one.at_s, "sureness": one.certainty} for one in notes]
    return JSONResponse({"notes": shown}, headers={"cache-control": "no-store"})
