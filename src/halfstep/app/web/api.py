"""What can other programs ask for? Operations in one list, from which routes and description come.

Who asks sends the word of a link, as browsers do in a cookie or as ``Authorization: Bearer WORD``.
Bodies and answers are JSON; a fault is an object with one line.
"""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field, replace
from tempfile import SpooledTemporaryFile
from typing import IO, Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from halfstep.app.rights import ANYBODY, DESK, Right, Visitor, demand, demand_thing
from halfstep.app.web.api_schema import ANY_OBJECT, ERROR, Schema
from halfstep.app.web.guard import MOST_BYTES
from halfstep.app.web.site_state import Site
from halfstep.app.web.visit import cookie_name, visitor_of
from halfstep.errors import BriefError, NotAllowed, StoreError
from halfstep.school.belonging import Thing
from halfstep.school.database import School, SchoolConnection

MOST_BODY_BYTES = 2_000_000


@dataclass(frozen=True, slots=True)
class ApiCall:
    """One call, read.

    Attributes
    ----------
    site : Site
    visitor : Visitor
    numbers : dict
        Numbers in the address, by their names.
    body : dict
        The object that was sent; empty where none is taken.
    words : mapping
        What stands in the address after ``?``.
    file : SpooledTemporaryFile or None
        The bytes that were sent, where such are taken.
    """

    site: Site
    visitor: Visitor
    numbers: dict[str, int]
    body: dict[str, Any]
    words: Mapping[str, str] = field(default_factory=dict)
    file: IO[bytes] | None = None

    @property
    def school(self) -> School:
        """What is kept."""
        return self.site.school

    def demand(self, connection: SchoolConnection, thing: Thing, number: int | None) -> None:
        """Refuse what is named in a body and is not there, or not for who asks.

        Raises
        ------
        NoSuchThing
        """
        if number is not None:
            demand_thing(connection, self.visitor, thing, number)


@dataclass(frozen=True, slots=True)
class Operation:
    """Something that can be asked for.

    Attributes
    ----------
    method : str
    path : str
        With the names of its numbers in braces: ``/api/jobs/{job}``.
    act : callable
        Its first line of documentation is the summary.
    answer : dict
        The schema of what comes back.
    body : dict or None
        The schema of what is sent.
    status : int
    right : Right
        What it needs.
    is_file : bool
        A file comes back, in whatever form it is.
    takes_file : bool
        Bytes are sent, as they are.
    words : tuple of str
        What may stand in the address after ``?``.
    """

    method: str
    path: str
    act: Callable[[ApiCall], Any]
    answer: Schema = field(default_factory=lambda: ANY_OBJECT)
    body: Schema | None = None
    status: int = 200
    right: Right = DESK
    is_file: bool = False
    takes_file: bool = False
    words: tuple[str, ...] = ()

    @property
    def summary(self) -> str:
        """In one line."""
        return (self.act.__doc__ or "").strip().partition("\n")[0]


def api_route(path: str, operations: tuple[Operation, ...]) -> Route:
    """The route of all that can be asked for at an address."""
    methods = [operation.method for operation in operations]
    route_path = path.replace("}", ":int}")
    by_method = {operation.method: operation for operation in operations}
    return Route(route_path, _endpoint(by_method), methods=methods)


def _endpoint(by_method: dict[str, Operation]) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        operation = by_method.get(request.method, next(iter(by_method.values())))
        with SpooledTemporaryFile(max_size=MOST_BODY_BYTES) as sent:
            if operation.body is not None or operation.takes_file:
                await _receive(request, sent, most=_most_bytes(operation))
            return await run_in_threadpool(_answer, operation, request, sent)

    return endpoint


def _most_bytes(operation: Operation) -> int:
    return MOST_BYTES if operation.takes_file else MOST_BODY_BYTES


async def _receive(request: Request, file: IO[bytes], *, most: int) -> None:
    """Keep what is sent.

    Raises
    ------
    BriefError
        When it is too long.
    StoreError
        When the disk cannot take it.
    """
    length = 0
    async for chunk in request.stream():
        length += len(chunk)
        if length > most:
            raise BriefError(f"the body is too long; send {most} bytes or less")
        try:
            file.write(chunk)
        except OSError as error:
            raise StoreError(f"what was sent cannot be kept: {error.strerror}") from None
    file.seek(0)


def _answer(operation: Operation, request: Request, sent: IO[bytes]) -> Response:
    site: Site = request.app.state.site
    visitor = visitor_of(site, _word(request))
    with site.school.reading() as connection:
        demand(connection, visitor, operation.right, request.path_params)
    words = {name: request.query_params.get(name, "") for name in operation.words}
    call = ApiCall(site, visitor, dict(request.path_params), {}, words)
    if operation.body is not None:
        call = replace(call, body=_object(sent.read()))
    elif operation.takes_file:
        call = replace(call, file=sent)
    made = operation.act(call)
    return made if isinstance(made, Response) else JSONResponse(made, operation.status)


def _word(request: Request) -> str:
    """The word of the link by which a program comes."""
    scheme, _, word = request.headers.get("authorization", "").partition(" ")
    if scheme and scheme.lower() != "bearer":
        raise NotAllowed("send the word of a link as `Authorization: Bearer WORD`")
    return word.strip() if scheme else request.cookies.get(cookie_name(request), "")


def _object(body: bytes) -> dict[str, Any]:
    try:
        data = json.loads(body)
    except (ValueError, RecursionError):
        raise BriefError("the body is no JSON; send one object") from None
    if not isinstance(data, dict):
        raise BriefError("the body is no object; send one, such as {}")
    return data


def description(operations: tuple[Operation, ...], version: str) -> Schema:
    """All operations as an OpenAPI 3.1 document."""
    paths: dict[str, dict[str, Any]] = {}
    for operation in operations:
        paths.setdefault(operation.path, {})[operation.method.lower()] = _described(operation)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Halfstep",
            "version": version,
            "description": "Lessons in improvising over chord changes, from one line of chords.",
        },
        "paths": paths,
        "components": {
            "securitySchemes": {
                "word": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "The word of a link: what stands after /in/ in its address.",
                }
            },
            "schemas": {"Fault": ERROR},
        },
        "security": [{"word": []}],
    }


_FAULTS = {
    "400": "the request is damaged",
    "403": "not for who asks",
    "404": "not kept, or no more",
    "405": "not done at this address",
    "413": "too large",
    "422": "cannot be met: the line says what would be right",
    "503": "the database is away; ask again in a moment",
    "507": "the disk cannot take it",
}


def _described(operation: Operation) -> Schema:
    faults = {
        status: {
            "description": words,
            "content": {"application/json": {"schema": {"$ref": "#/components/schemas/Fault"}}},
        }
        for status, words in _FAULTS.items()
    }
    form = ("*/*", {}) if operation.is_file else ("application/json", {"schema": operation.answer})
    answer = {"description": operation.summary, "content": dict([form])}
    described: Schema = {
        "operationId": operation.act.__name__,
        "summary": operation.summary,
        "parameters": [
            *(_number_parameter(name) for name in _numbers(operation.path)),
            *(_word_parameter(name) for name in operation.words),
        ],
        "responses": {str(operation.status): answer, **faults},
    }
    if operation.body is not None:
        described["requestBody"] = {
            "required": True,
            "content": {"application/json": {"schema": operation.body}},
        }
    if operation.takes_file:
        described["requestBody"] = {
            "required": True,
            "content": {"application/octet-stream": {}},
        }
    if operation.right == ANYBODY:
        described["security"] = []
    return described


def _numbers(path: str) -> list[str]:
    return [part[1:-1] for part in path.split("/") if part.startswith("{")]


def _number_parameter(name: str) -> Schema:
    return {
        "name": name,
        "in": "path",
        "required": True,
        "schema": {"type": "integer", "minimum": 1, "maximum": 2**31 - 1},
    }


def _word_parameter(name: str) -> Schema:
    return {"name": name, "in": "query", "schema": {"type": "string", "default": ""}}
