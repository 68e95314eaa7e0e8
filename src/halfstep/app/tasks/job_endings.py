"""What is done at the end of a job, in the same change? A row for each kind of belonging.

Where a file of a job is worth showing before the others are made, a row says what is done with it.

An ending is told the job as it ended, done or failed, and writes on the connection that ends it:
both stand, or neither. It is called again for a job that was begun again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from halfstep.app.tasks.handing_tasks import sheets_are_made
from halfstep.app.tasks.heard_take_tasks import FEEDBACK_FILE, take_ended, take_is_heard
from halfstep.school import hand_outs, sent_takes
from halfstep.school.database import School, SchoolConnection
from halfstep.school.jobs import Job

JobEnding = Callable[[School, SchoolConnection, Job], None]

JOB_ENDINGS: Mapping[str, JobEnding] = {
    hand_outs.BELONGING: sheets_are_made,
    sent_takes.BELONGING: take_ended,
}
"""By the first word of what a job belongs to; the others end without more."""

FirstFile = Callable[[School, SchoolConnection, Job, bytes], None]

FIRST_FILES: Mapping[tuple[str, str], FirstFile] = {
    (sent_takes.BELONGING, FEEDBACK_FILE): take_is_heard,
}
"""By the first word of what a job belongs to, and the name of a file."""
