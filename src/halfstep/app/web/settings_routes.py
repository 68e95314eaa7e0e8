"""What a school has chosen: from which age one decides alone, and how long things are kept."""

from __future__ import annotations

from starlette.responses import Response

from halfstep.app.rights import WHO_MAY, Deed
from halfstep.app.tasks.setting_tasks import choose_settings
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.page_words import ENGLISH, gettext
from halfstep.app.web.visit import Visit
from halfstep.errors import BriefError
from halfstep.school.chosen_language import LANGUAGE, chosen_language
from halfstep.school.settings import SETTINGS, value_of
from halfstep.school.time_zone import TIME_ZONE, chosen_zone

_FIELDS = {name.replace("-", "_"): one.title for name, one in SETTINGS.items()}
_FIELDS |= {"time_zone": "Time zone", "language": "Language of the pages"}
_NAMES = (*SETTINGS, TIME_ZONE, LANGUAGE)


def show_settings(visit: Visit) -> Response:
    """What is chosen."""
    return _settings(visit)


def _settings(visit: Visit, fault: FormFault = NO_FAULT) -> Response:
    with visit.school.reading() as connection:
        values = {name: str(value_of(connection, one)) for name, one in SETTINGS.items()}
        values[TIME_ZONE] = chosen_zone(connection)
        values[LANGUAGE] = chosen_language(connection)
    if fault.line:
        values = _typed(visit)
    return page(
        visit,
        "settings.html",
        status=422 if fault.line else 200,
        settings=SETTINGS.values(),
        values=values,
        languages=_languages(visit, values[LANGUAGE]),
        may_choose=visit.visitor.role in WHO_MAY[Deed.KEEP_HOUSE],
        fault=fault,
    )


def _languages(visit: Visit, chosen: str) -> list[tuple[str, str]]:
    """What can be chosen; nothing where there is English alone."""
    known = (ENGLISH, *visit.site.languages.values())
    names = {chosen: chosen, **{language.code: language.name for language in known}}
    names[""] = gettext("that of each reader’s browser")
    return sorted(names.items(), key=lambda one: one[0]) if len(names) > 2 else []


def _typed(visit: Visit) -> dict[str, str]:
    return {name: visit.text(name.replace("-", "_")) for name in _NAMES}


def keep_settings(visit: Visit) -> Response:
    """Choose."""
    try:
        choose_settings(visit.school, _typed(visit), by=visit.visitor.account_number)
    except BriefError as error:
        return _settings(visit, form_fault(error, _FIELDS))
    return leads_to("/settings")
