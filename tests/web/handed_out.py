"""Something handed out, for tests: sheets whose files are small and made at once."""

from __future__ import annotations

import io
import wave
from datetime import date, timedelta
from pathlib import Path

from desks import Desk

from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.errors import BriefError
from halfstep.instruments import Clef
from halfstep.render.handout import Handout, handout_pdf
from halfstep.school.kept_charts import add_chart
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.request_fields import Progress
from halfstep.services.request_files import RequestFiles
from halfstep.services.stored_requests import Request

CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 |\n"
SOUND = bytes(range(256)) * 8
HIGHEST = "tenor-sax:intermediate"
"""Who gets none."""


def small_lesson(
    request: Request, folder: Path, *, progress: Progress, **_: object
) -> RequestFiles:
    """Files of the names that a lesson has, but for one player who gets none."""
    assert isinstance(request, MakeLesson)
    progress(0.5, "halfway")
    (player,) = request.instruments
    if player == HIGHEST:
        raise BriefError("`level`: its rules leave no note; choose another `level`")
    stem = player.partition(":")[0]
    page = Handout(title="Two Roads", player=player, facts="", clef=Clef.TREBLE, grid=())
    files = {
        f"handout-{stem}.pdf": handout_pdf(page),
        f"step-1-{stem}.svg": b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        f"step-1-{stem}.musicxml": b"<score-partwise/>",
        "step-1.m4a": SOUND,
        "backing.m4a": SOUND,
        "teacher.pdf": b"%PDF-",
        "lesson.json": b"{}",
    }
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return RequestFiles(tuple(files))


def chart_of(desk: Desk) -> int:
    """The number of a chart that is kept."""
    with desk.school.writing() as connection:
        return add_chart(connection, title="Two Roads", text=CHART)


def form_for(chart: int, **changed: str) -> dict[str, str]:
    """What the form of a hand-out sends."""
    usual = {
        "chart": str(chart),
        "whom": "class-1",
        "steps": "arpeggio",
        "tempo_bpm": "92",
        "due_on": (date.today() + timedelta(days=7)).isoformat(),
        "note": "Slowly first.",
    }
    return usual | changed


def made(desk: Desk) -> None:
    """Do all jobs."""
    while work_once(Workplace(desk.school, "ada")):
        pass


def short_recording() -> bytes:
    """A second of silence as a WAV file."""
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setparams((1, 2, 22050, 0, "NONE", ""))
        sound.writeframes(bytes(44100))
    return file.getvalue()
