"""How is a page made? A template, what it shows, and what every page knows."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.responses import HTMLResponse, RedirectResponse, Response

from halfstep.app.web.visit import Visit
from halfstep.errors import HalfstepError

HERE = Path(__file__).parent
STATIC = HERE / "static"


def _environment() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HERE / "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.globals["static"] = static_address
    made.filters["day"] = day_words
    made.filters["date"] = date_words
    made.filters["lasting"] = time_words
    made.filters["segment"] = lambda text: quote(str(text), safe="")
    return made


@cache
def static_address(name: str) -> str:
    """The address of a file that browsers load; another one when the file is another."""
    digest = hashlib.sha256(STATIC.joinpath(name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?{digest}"


def day_words(day: date | datetime) -> str:
    """``Wed 4 March``; of a moment, the day that it is here."""
    day = _day_here(day)
    return f"{day:%a} {day.day} {day:%B}"


def date_words(day: date | datetime) -> str:
    """``4 March 2026``; of a moment, the day that it is here."""
    day = _day_here(day)
    return f"{day.day} {day:%B %Y}"


def _day_here(day: date | datetime) -> date:
    return day.astimezone().date() if isinstance(day, datetime) else day


_YEAR_DAYS = 365.25


def time_words(time: timedelta) -> str:
    """``180 days``; ``3 years`` where it is that to the day.

    >>> time_words(timedelta(days=1096))
    '3 years'
    """
    years = round(time.days / _YEAR_DAYS)
    if not years or abs(time.days - years * _YEAR_DAYS) >= 1:
        return f"{time.days} days"
    return "a year" if years == 1 else f"{years} years"


@dataclass(frozen=True, slots=True)
class FormFault:
    """Why a form was not taken.

    Attributes
    ----------
    field : str
        Where the line belongs; empty for the form as a whole.
    line : str
    """

    field: str = ""
    line: str = ""

    def of(self, field: str) -> str:
        """The line of a field; empty where that one is not at fault."""
        return self.line if field == self.field else ""


NO_FAULT = FormFault()


def form_fault(error: HalfstepError, fields: dict[str, str]) -> FormFault:
    """An error as the fault of one of a form's fields.

    Parameters
    ----------
    fields : dict
        What the page calls each field, such as ``{"tempo_bpm": "Tempo"}``.
    """
    import re

    named = [name for name in re.findall(r"`([a-z_]+)`", error.marked_text) if name in fields]
    line = error.worded(lambda name: fields.get(name, name.replace("_", " ")))
    return FormFault(named[0] if named else "", line)


ENVIRONMENT = _environment()


def page(visit: Visit, template: str, *, status: int = 200, **shown: Any) -> Response:
    """A page, as a whole."""
    html = ENVIRONMENT.get_template(template).render(
        visit=visit, visitor=visit.visitor, fault=shown.pop("fault", NO_FAULT), **shown
    )
    return HTMLResponse(html, status)


def leads_to(path: str) -> Response:
    """Where a form leads that was taken."""
    return RedirectResponse(path, 303)
