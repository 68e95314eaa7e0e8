"""What does a route get? One visit: who comes, what was sent, and what the site keeps."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.convertors import Convertor, register_url_convertor
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from halfstep.app.rights import ANYBODY, STRANGER, Right, Visitor, demand, demand_thing
from halfstep.app.web.addresses import lets_others_in
from halfstep.app.web.page_languages import language_for
from halfstep.app.web.page_words import ENGLISH, PageLanguage, speaking
from halfstep.app.web.site_state import Site
from halfstep.errors import BriefError, NoSuchThing, NotAllowed, StoreError
from halfstep.school.accounts import find_account, is_school, wards_of
from halfstep.school.belonging import Reach, Thing
from halfstep.school.chosen_language import chosen_language
from halfstep.school.database import School, SchoolConnection
from halfstep.school.devices import DEVICE_MARK, begin_device, device_of, see_device
from halfstep.school.invitations import invitation_of, is_desk_word
from halfstep.school.sessions import MARK, is_to_be_seen, see_session, session_of
from halfstep.school.students import Student, student_of_number

COOKIE = "halfstep"
"""Holds the word by which a browser is known."""
SECURE_COOKIE = "__Host-halfstep"
"""The same where the page came by TLS.

Browsers keep it from every page that did not (RFC 6265bis, 4.1.3). The name is another one because
they refuse to put a cookie of a page without TLS in the place of one with it.
"""
_LASTS_S = 400 * 24 * 3600
"""A visitor is known that long without coming again; browsers keep no cookie longer."""
_BROWSERS = ("Firefox", "Edg", "Chrome", "Safari")
_SYSTEMS = ("Android", "iPhone", "iPad", "Windows", "Mac OS X", "Linux")
_NAMES = {"Edg": "Edge", "Mac OS X": "a Mac"}
LONGEST_FIELD = 1_000_000
"""Bytes of one field of a form."""
MOST_FIELDS = 1000


class _Number(Convertor[int]):
    """A number in an address, small enough for every database."""

    regex = "[0-9]{1,9}"

    def convert(self, value: str) -> int:
        """As a number."""
        return int(value)

    def to_string(self, value: int) -> str:
        """As it stands in an address."""
        return str(value)


register_url_convertor("int", _Number())


@dataclass(frozen=True, slots=True)
class Visit:
    """One request, read.

    Attributes
    ----------
    request : Request
    site : Site
    visitor : Visitor
    form : FormData
        What was sent; empty for what is only looked at.
    body : bytes
        What was sent as it is, where a route takes that.
    """

    request: Request
    site: Site
    visitor: Visitor
    form: FormData
    body: bytes = b""

    @property
    def school(self) -> School:
        """What is kept."""
        return self.site.school

    @property
    def is_secure(self) -> bool:
        """True where the page came by TLS."""
        return self.request.url.scheme == "https"

    @property
    def is_open(self) -> bool:
        """True where links lead here from other devices, too."""
        return bool(self.site.address) or lets_others_in(self.request.url.hostname or "")

    @property
    def is_swap(self) -> bool:
        """True where a script asks for a part of a page."""
        return "x-swap" in self.request.headers

    def reach(self, connection: SchoolConnection) -> Reach:
        """With what who visits has to do."""
        return self.visitor.reach(connection)

    def demand(self, connection: SchoolConnection, thing: Thing, number: int | None) -> None:
        """Refuse what is named in a form and is not there, or not for who visits.

        Raises
        ------
        NoSuchThing
        """
        if number is not None:
            demand_thing(connection, self.visitor, thing, number)

    def number(self, name: str) -> int:
        """A number in the address."""
        number: int = self.request.path_params[name]
        return number

    def word(self, name: str) -> str:
        """A word in the address."""
        word: str = self.request.path_params[name]
        return word

    def text(self, field: str, default: str = "") -> str:
        """A field of the form, or of the address after ``?``, with line ends as ours are."""
        value = self.form.get(field, self.request.query_params.get(field, default))
        if not isinstance(value, str):
            raise BriefError(f"`{field}`: a text was expected here, not a file")
        return value.replace("\r\n", "\n").replace("\r", "\n")

    def texts(self, field: str) -> tuple[str, ...]:
        """All values of a field that may come more than once."""
        values = self.form.getlist(field) or self.request.query_params.getlist(field)
        return tuple(value for value in values if isinstance(value, str))

    def upload(self, field: str) -> UploadFile | None:
        """A file that was sent; None where none was chosen."""
        value = self.form.get(field)
        return value if isinstance(value, UploadFile) and value.filename else None

    def player(self) -> Student:
        """Whose own page it is.

        Raises
        ------
        NotAllowed
        """
        student = self.visitor.student
        if student is None:
            raise NotAllowed("this is a player's own page; open it by the player's link")
        return student

    def link(self, path: str) -> str:
        """A path of this site as an address that works elsewhere."""
        own = f"{self.request.url.scheme}://{self.request.url.netloc}"
        return f"{self.site.address or own}{path}"


Act = Callable[[Visit], Response]
"""What a route does; it runs in a thread, so that it may wait for the disk."""


def shown(path: str, right: Right, act: Act) -> SiteRoute:
    """A route that shows something and changes nothing."""
    return SiteRoute(path, right, "GET", _endpoint(right, act), act.__name__)


def done(path: str, right: Right, act: Act) -> SiteRoute:
    """A route that does something with what was sent."""
    return SiteRoute(path, right, "POST", _endpoint(right, act), act.__name__)


def taken(path: str, right: Right, act: Act, *, method: str = "POST", most: int) -> SiteRoute:
    """A route that takes bytes as they are, so many at most."""

    async def endpoint(request: Request) -> Response:
        body = bytearray()
        async for chunk in request.stream():
            body += chunk
            if len(body) > most:
                raise HTTPException(413, f"this is too large; send {most} bytes or less")
        return await run_in_threadpool(_acted, right, act, request, FormData(), bytes(body))

    return SiteRoute(path, right, method, endpoint, act.__name__)


class SiteRoute(Route):
    """An address with the right it needs.

    Parameters
    ----------
    path : str
    right : Right
        Held before anything is done.
    method : str
    endpoint : callable
    name : str
    """

    def __init__(
        self, path: str, right: Right, method: str, endpoint: Callable[..., Any], name: str
    ) -> None:
        super().__init__(path, endpoint, methods=[method], name=name)
        self.right = right


def _endpoint(right: Right, act: Act) -> Callable[[Request], object]:
    async def endpoint(request: Request) -> Response:
        async with request.form(max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD) as form:
            return await run_in_threadpool(_acted, right, act, request, form)

    return endpoint


def _acted(right: Right, act: Act, request: Request, form: FormData, body: bytes = b"") -> Response:
    site: Site = request.app.state.site
    visitor = _visitor(request, site)
    if right != ANYBODY:
        with site.school.reading() as connection:
            demand(connection, visitor, right, request.path_params)
    request.state.language = language = _language(request, site)
    with speaking(language):
        visit = Visit(request, site, visitor, form, body)
        response = act(visit)
    if visitor.is_of_before and _looks_at_page(request):
        _know_by_device(visit, response)
    return response


def _language(request: Request, site: Site) -> PageLanguage:
    """In which language the page of a visitor speaks."""
    if not site.languages:
        return ENGLISH
    with site.school.reading() as connection:
        chosen = chosen_language(connection)
    return language_for(chosen, request.headers.get("accept-language", ""), site.languages)


def _looks_at_page(request: Request) -> bool:
    """True for somebody who opens a page: a page's own requests come several at once."""
    return request.method == "GET" and "text/html" in request.headers.get("accept", "")


def _know_by_device(visit: Visit, response: Response) -> None:
    """Have a browser that is known by a link's word, as all were once, keep one of its own."""
    student = visit.visitor.student
    if student is None or student.number is None or "set-cookie" in response.headers:
        return
    with visit.school.writing() as connection:
        word = begin_device(connection, student.number, device_words(visit.request))
    keep_word(visit, response, word)


def keep_word(visit: Visit, response: Response, word: str) -> None:
    """Have the browser keep the word by which it is known from now on."""
    response.set_cookie(
        cookie_name(visit.request),
        word,
        max_age=_LASTS_S,
        httponly=True,
        samesite="lax",
        secure=visit.is_secure,
    )


def device_words(request: Request) -> str:
    """A browser in three words, ``Firefox on Linux``: no more of it is kept."""
    agent = request.headers.get("user-agent", "")
    browser, system = (
        next((name for name in names if re.search(rf"\b{name}\b", agent)), "")
        for names in (_BROWSERS, _SYSTEMS)
    )
    if not browser:
        return "a program"
    return f"{_NAMES.get(browser, browser)} on {_NAMES.get(system, system) or 'a device'}"


def _visitor(request: Request, site: Site) -> Visitor:
    """Who comes, by the word in the cookie."""
    return visitor_of(site, request.cookies.get(cookie_name(request), ""))


def cookie_name(request: Request) -> str:
    """What the cookie is called that knows a visitor again."""
    return SECURE_COOKIE if request.url.scheme == "https" else COOKIE


def visitor_of(site: Site, word: str) -> Visitor:
    """Whom a word lets in: that of a session, of the desk, or of a player's device."""
    if not word:
        return STRANGER
    with site.school.reading() as connection:
        if word.startswith(MARK):
            return _signed_in(site, connection, word)
        if is_desk_word(site.secret, word):
            return STRANGER if is_school(connection) else Visitor(is_teacher=True)
        if word.startswith(DEVICE_MARK):
            return _on_device(site, connection, word)
        invitation = invitation_of(connection, site.secret, word)
    if invitation is None or not invitation.is_known:
        return STRANGER
    return Visitor(student=invitation.student, is_of_before=True)


def _signed_in(site: Site, connection: SchoolConnection, word: str) -> Visitor:
    session = session_of(connection, word)
    if session is None:
        return STRANGER
    account = find_account(connection, session.account)
    own = None if account.student is None else student_of_number(connection, account.student)
    wards = wards_of(connection, account)
    if is_to_be_seen(session):
        with site.school.writing() as change:
            see_session(change, session)
    return Visitor(account.is_staff, own, account, session.number, wards)


def _on_device(site: Site, connection: SchoolConnection, word: str) -> Visitor:
    device = device_of(connection, word)
    if device is None:
        return STRANGER
    student = student_of_number(connection, device.student)
    if device.is_to_be_seen:
        with site.school.writing() as change:
            see_device(change, device)
    return Visitor(student=student, device=device.number)


def stored_upload(upload: UploadFile, folder: Path) -> Path:
    """A file that was sent, under its own last name in a folder; what it was called is not trusted.

    Raises
    ------
    NoSuchThing
        When nothing was sent.
    StoreError
        When the disk cannot take it.
    """
    name = Path((upload.filename or "").replace("\\", "/")).name
    if not name or name in {".", ".."}:
        raise NoSuchThing("no file was sent; choose one")
    path = folder / "".join(c if c.isprintable() else "_" for c in name)[-120:]
    try:
        upload.file.seek(0)
        with path.open("wb") as file:
            while block := upload.file.read(1 << 20):
                file.write(block)
    except OSError as error:
        raise StoreError(f"cannot keep {path.name}: {error.strerror}") from None
    return path


def wants_data(request: Request) -> bool:
    """True for another program, and for a script of ours that says so."""
    is_api = request.url.path.startswith("/api/")
    return is_api or request.headers.get("accept") == "application/json"
