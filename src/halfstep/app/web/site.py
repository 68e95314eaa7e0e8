"""The site: routes, guard, faults and what they share, put together."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path

from starlette.applications import Starlette
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import DEFAULT_EXCLUDED_CONTENT_TYPES, GZipMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Mount
from starlette.staticfiles import PathLike, StaticFiles
from starlette.types import Scope

from halfstep.app.mail import MailServer
from halfstep.app.web.guard import Guard
from halfstep.app.web.light_files import light_file
from halfstep.app.web.page import ENVIRONMENT, STATIC
from halfstep.app.web.page_languages import SHIPPED, language_for, languages_in
from halfstep.app.web.page_words import PageLanguage, gettext, noted, speaking, spoken
from halfstep.app.web.phone_door import PhoneDoor
from halfstep.app.web.proxy import Proxy
from halfstep.app.web.routes import ROUTES
from halfstep.app.web.site_state import BACK_IN_S, Site, nobody_hears
from halfstep.app.web.visit import wants_data
from halfstep.app.web.watched import Told, Watched
from halfstep.errors import (
    HalfstepError,
    MissingExtra,
    NoSuchThing,
    NotAllowed,
    StoreAway,
    StoreError,
    TooManyTries,
)
from halfstep.school.database import School
from halfstep.school.invitations import door_secret
from halfstep.services.early_hearing import GrowingRecording


def _nobody() -> None:
    """Nobody works beside the pages."""


def desk_site(
    school: School,
    *,
    names: tuple[str, ...] = (),
    wake: Callable[[], None] = _nobody,
    phones: PhoneDoor | None = None,
    proxy: Proxy | None = None,
    hear: Callable[[GrowingRecording], None] = nobody_hears,
    told: Sequence[Told] = (),
    mail: MailServer | None = None,
) -> Starlette:
    """The site of one data folder.

    Parameters
    ----------
    school : School
    names : tuple of str
        Names of this machine beside the usual ones.
    wake : callable
        Tells the workers, where there are any, that a job was added.
    phones : PhoneDoor, optional
        How other devices come in.
    proxy : Proxy, optional
        Who passes on what came to another address.
    hear : callable
        Tells whoever listens to takes, where there is somebody, that a recording has grown.
    told : sequence of callable
        Are told of each answer.
    mail : MailServer, optional
        By which links are sent to who forgot a password.

    Raises
    ------
    StoreError
        When the folder cannot be written to.
    ReadError
        When a language of pages in it cannot be read.
    """
    routes = [*ROUTES, Mount("/static", _Lasting(directory=STATIC))]
    watched = [Middleware(Watched, routes, told)] if told else []
    app = Starlette(
        routes=routes,
        middleware=[Middleware(Guard, names, proxy), _SQUEEZED, *watched],
        exception_handlers={
            HalfstepError: _halfstep_fault,
            HTTPException: _no_such_page,
            OSError: _disk_fault,
            Exception: _own_fault,
        },
    )
    door = phones or PhoneDoor(school.folder)
    languages = languages_in(SHIPPED, school.folder / "languages")
    app.state.site = Site(school, door_secret(school.files), wake, door, hear, languages, mail)
    return app


_SQUEEZED = Middleware(
    GZipMiddleware,
    compresslevel=8,
    exclude_content_types=(*DEFAULT_EXCLUDED_CONTENT_TYPES, "application/pdf"),
)
"""Texts go over the line as gzip; what is squeezed already, as it is."""


class _Lasting(StaticFiles):
    """Files whose address says what is in them, so that a browser need not ask again."""

    def file_response(
        self,
        full_path: PathLike,
        stat_result: os.stat_result,
        scope: Scope,
        status_code: int = 200,
    ) -> Response:
        """The file, to be kept."""
        response = _light(Path(full_path), Headers(scope=scope)) or super().file_response(
            full_path, stat_result, scope, status_code
        )
        lasting = "max-age=31536000, immutable" if scope.get("query_string") else "no-cache"
        response.headers["cache-control"] = lasting
        return response


def _light(path: Path, headers: Headers) -> Response | None:
    """A script or a style sheet; nothing of it for who has it already."""
    file = light_file(path)
    if file is None:
        return None
    is_known = headers.get("if-none-match", "").removeprefix("W/") == file.mark
    data, status = (b"", 304) if is_known else (file.data, 200)
    return Response(data, status, {"etag": file.mark}, file.media_type)


_STATUS: tuple[tuple[type[HalfstepError], int], ...] = (
    (NoSuchThing, 404),
    (TooManyTries, 429),
    (NotAllowed, 403),
    (StoreAway, 503),
    (StoreError, 507),
    (MissingExtra, 501),
)


def status_of(error: HalfstepError) -> int:
    """How the fault is numbered in HTTP."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 422)


def _halfstep_fault(request: Request, error: Exception) -> Response:
    assert isinstance(error, HalfstepError)
    line = error.worded(lambda field: field.replace("_", " "))
    answer = _fault(request, line, status_of(error), is_core=True)
    if isinstance(error, StoreAway):
        answer.headers["retry-after"] = str(BACK_IN_S)
    return answer


_NO_SUCH_PAGE = {
    404: noted("there is no such page; it may have been removed"),
    405: noted("that is not done here"),
}


def _no_such_page(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    is_long = error.status_code == 400 and "exceeded maximum size" in error.detail
    if is_long:
        return _fault(request, noted("what was typed is longer than 1 MB; send less of it"), 413)
    own = _NO_SUCH_PAGE.get(error.status_code)
    answer = _fault(request, own or error.detail, error.status_code, is_core=own is None)
    answer.headers.update(error.headers or {})
    return answer


def _disk_fault(request: Request, error: Exception) -> Response:
    """A file that was sent may be too much for the disk before a route sees it."""
    assert isinstance(error, OSError)
    line = f"the disk refuses it: {error.strerror}; nothing was kept"
    return _fault(request, line, 507, is_core=True)


def _own_fault(request: Request, error: Exception) -> Response:
    line = noted("a fault of the program, not yours; what was typed is still in your browser")
    return _fault(request, line, 500, kind=f" ({type(error).__name__})")


def _fault(
    request: Request, line: str, status: int, *, is_core: bool = False, kind: str = ""
) -> Response:
    """One line, where it belongs: in the page that asked, or on one of its own.

    Parameters
    ----------
    line : str
        In English.
    is_core : bool
        It is not of the pages, and stands in English whatever their language.
    kind : str
        What stands behind it.
    """
    with speaking(_language(request)):
        return _fault_page(request, (line if is_core else gettext(line)) + kind, status, is_core)


def _language(request: Request) -> PageLanguage:
    """That of the visit; before one began, the browser's."""
    known: PageLanguage | None = getattr(request.state, "language", None)
    site: Site = request.app.state.site
    accepted = request.headers.get("accept-language", "")
    return known or language_for("", accepted, site.languages)


def _fault_page(request: Request, line: str, status: int, is_core: bool) -> Response:
    if wants_data(request):
        from starlette.responses import JSONResponse

        return JSONResponse({"error": line}, status)
    if "x-swap" in request.headers:
        return PlainTextResponse(line, status)
    html = ENVIRONMENT.get_template("fault.html").render(
        line=line, is_core=is_core, language=spoken()
    )
    return HTMLResponse(html, status)
