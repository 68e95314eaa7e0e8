"""What is loaded before the first page asks for it: what reads, writes and draws a line."""

from __future__ import annotations

from contextlib import suppress
from threading import Thread

from halfstep.app.web.line_view import ROOMS_MM, drawn
from halfstep.services.edit_line import EditLine, edit_line
from halfstep.services.explain_chart import ExplainChart, explain_chart
from halfstep.services.write_etude import WriteEtude, write_one_etude

_CHART = "| Dm7 | G7 |"


def warm_beside() -> Thread:
    """Begin to load it in a thread of its own, which ends by itself."""
    thread = Thread(target=_warm, daemon=True, name="warming")
    thread.start()
    return thread


def _warm() -> None:
    explain_chart(ExplainChart(_CHART))
    etude = write_one_etude(WriteEtude(_CHART, "scale", instrument="alto-sax"))
    line = edit_line(EditLine(etude.file(".json").data.decode()))
    with suppress(RuntimeError):  # the program is told to end meanwhile: nobody engraves any more
        for room_mm, staff_mm in ROOMS_MM.items():
            drawn(line, room_mm=room_mm, staff_mm=staff_mm)
