"""How is a page made? A template, what it shows, and what every page knows.

Words of a page are asked for by their English (`page_words`): ``_("…")`` where nothing but text
stands, ``{% trans %}`` where tags stand between the words. What the program says for every face, as
faults and feedback, is English wherever it stands: the filter ``english`` marks it as such.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse, RedirectResponse, Response

from halfstep.app.web.page_words import (
    ENGLISH,
    gettext,
    in_words_of_page,
    isolated,
    ngettext,
    spoken,
)
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
        extensions=["jinja2.ext.i18n"],
    )
    made.newstyle_gettext = True  # type: ignore[attr-defined]  # of the extension
    made.globals["_"] = gettext
    made.globals["gettext"] = _marked_up
    made.globals["ngettext"] = ngettext
    made.globals["script_words"] = script_words
    made.globals["in_english"] = in_english
    made.globals["static"] = static_address
    made.filters["english"] = english
    made.filters["day"] = day_words
    made.filters["date"] = date_words
    made.filters["lasting"] = time_words
    made.filters["segment"] = lambda text: quote(str(text), safe="")
    return made


def _marked_up(text: str, /, **values: object) -> Markup:
    """A text with tags between its words; what is put into it is escaped."""
    escaped = {name: _escaped(value) for name, value in values.items()}
    return Markup(in_words_of_page(text)) % escaped  # noqa: S704 - of a template, or checked beside it


def _escaped(value: object) -> object:
    return isolated(escape(value)) if isinstance(value, str) else value


def english(text: str) -> str:
    """What the program says in English, marked so in a page of another language."""
    if spoken() is ENGLISH or not text:
        return text
    return Markup('<span lang="en" dir="ltr">{}</span>').format(text)


def in_english() -> Markup:
    """The same as attributes, for an element whose own attributes hold such a text."""
    return Markup("") if spoken() is ENGLISH else Markup(' lang="en" dir="ltr"')


def script_words() -> Markup:
    """The words of the scripts in the language of the page; empty where they need none."""
    own = {text: forms[0] for text in texts_of_scripts() if (forms := spoken().texts.get(text))}
    return htmlsafe_json_dumps(own, ensure_ascii=False) if own else Markup("")


_ASKED_BY_SCRIPT = re.compile(r'\bgettext\("((?:[^"\\]|\\.)*)"')


@cache
def texts_of_scripts() -> tuple[str, ...]:
    """The texts that the scripts ask for, each once."""
    scripts = (path.read_text("utf-8") for path in sorted(STATIC.glob("*.js")))
    return tuple(
        dict.fromkeys(
            json.loads(f'"{text}"') for one in scripts for text in _ASKED_BY_SCRIPT.findall(one)
        )
    )


@cache
def static_address(name: str) -> str:
    """The address of a file that browsers load; another one when the file is another."""
    digest = hashlib.sha256(STATIC.joinpath(name).read_bytes()).hexdigest()[:12]
    return f"/static/{name}?{digest}"


def day_words(day: date | datetime) -> str:
    """``Wed 4 March``; of a moment, the day that it is here."""
    day = _day_here(day)
    if spoken() is not ENGLISH:
        from babel.dates import format_skeleton

        return format_skeleton("EEEdMMMM", day, locale=_locale())
    return f"{day:%a} {day.day} {day:%B}"


def date_words(day: date | datetime) -> str:
    """``4 March 2026``; of a moment, the day that it is here."""
    day = _day_here(day)
    if spoken() is not ENGLISH:
        from babel.dates import format_date

        return format_date(day, "long", locale=_locale())
    return f"{day.day} {day:%B %Y}"


def _locale() -> str:
    return spoken().code.replace("-", "_")


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
        return ngettext("%(num)s day", "%(num)s days", time.days)
    return gettext("a year") if years == 1 else ngettext("%(num)s year", "%(num)s years", years)


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
    named = [name for name in re.findall(r"`([a-z_]+)`", error.marked_text) if name in fields]
    line = error.worded(lambda name: fields.get(name, name.replace("_", " ")))
    return FormFault(named[0] if named else "", line)


ENVIRONMENT = _environment()


def page(visit: Visit, template: str, *, status: int = 200, **shown: Any) -> Response:
    """A page, as a whole."""
    html = ENVIRONMENT.get_template(template).render(
        visit=visit,
        visitor=visit.visitor,
        language=spoken(),
        fault=shown.pop("fault", NO_FAULT),
        **shown,
    )
    return HTMLResponse(html, status)


def leads_to(path: str) -> Response:
    """Where a form leads that was taken."""
    return RedirectResponse(path, 303)
