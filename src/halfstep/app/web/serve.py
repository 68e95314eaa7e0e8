"""The site on this machine: an address to open, and workers beside it, until it is stopped."""

from __future__ import annotations

import signal
import socket
import sys
import webbrowser
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import TYPE_CHECKING

from halfstep.errors import BriefError

if TYPE_CHECKING:
    from halfstep.school.database import School

PORT = 8765
LOOPBACK = "127.0.0.1"
_EVERY_ADDRESS = {"0.0.0.0", "::", ""}


@dataclass(frozen=True, slots=True)
class ServeSite:
    """A request to serve the pages.

    Attributes
    ----------
    folder : Path
        Where what is kept lies.
    host : str
        The address to listen at; ``0.0.0.0`` for all of this machine.
    port : int
    opens_browser : bool
        On a desktop.
    """

    folder: Path
    host: str = LOOPBACK
    port: int = PORT
    opens_browser: bool = True


def serve_site(request: ServeSite) -> None:
    """Serve the pages until the process is told to stop.

    Raises
    ------
    BriefError
        When the address cannot be listened at.
    StoreError
        When the folder cannot be used.
    """
    import uvicorn

    from halfstep.app.job_workers import JobWorkers
    from halfstep.app.tasks.demo_tasks import make_demo
    from halfstep.app.web.site import desk_site
    from halfstep.app.web.warming import warm_beside
    from halfstep.school.database import School
    from halfstep.school.invitations import desk_word, door_secret

    listener = _listener(request)
    with School(request.folder) as school, listener, JobWorkers(school) as workers:
        address = f"http://{_shown_host(request.host)}:{listener.getsockname()[1]}"
        names, others = (request.host,), address if lets_others_in(request.host) else ""
        app = desk_site(school, names=names, wake=workers.wake, address=others)
        make_demo(school)
        word = desk_word(door_secret(school.folder))
        for line in greeting(request, address, word, room=_room(school)):
            print(line, flush=True)
        if request.opens_browser and sys.stdout.isatty():
            Timer(0.5, webbrowser.open, [f"{address}/in/{word}"]).start()
        warm_beside()
        config = uvicorn.Config(app, log_level="warning", access_log=False, server_header=False)
        signal.signal(signal.SIGTERM, signal.default_int_handler)  # then workers are told as well
        with suppress(KeyboardInterrupt):
            uvicorn.Server(config).run([listener])


def _listener(request: ServeSite) -> socket.socket:
    """The open address.

    Raises
    ------
    BriefError
    """
    family = socket.AF_INET6 if ":" in request.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((request.host, request.port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise BriefError(
            f"`port` {request.port} at {request.host}: {error.strerror}; give another `port`"
        ) from None
    return listener


def _shown_host(host: str) -> str:
    """The host as another device of the same network may call it."""
    if host in _EVERY_ADDRESS:
        return _own_address()
    return f"[{host}]" if ":" in host else host


def _own_address() -> str:
    """The address by which this machine is known in its network; nothing is sent to learn it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for examples (RFC 5737)
            name: str = probe.getsockname()[0]
        except OSError:
            return LOOPBACK
    return name


def _room(school: School) -> str:
    """Where phones in the room come in: by the link of the class, where there is but one."""
    from halfstep.school.classes import every_class
    from halfstep.school.invitations import door_secret, invite_class, link_word

    with school.reading() as connection:
        classes = every_class(connection)
    if len(classes) != 1:
        return ""
    with school.writing() as connection:
        number = invite_class(connection, classes[0].number)
    return f"/in/{link_word(door_secret(school.folder), number)}"


def greeting(request: ServeSite, address: str, word: str, *, room: str = "") -> Iterator[str]:
    """What is printed: the desk's address, and how phones come in.

    Parameters
    ----------
    request : ServeSite
    address, word : str
        Of the site, and the teacher's own.
    room : str
        The path by which the phones of a class come in.
    """
    yield f"the desk: {address}/in/{word}"
    if lets_others_in(request.host):
        yield from _qr_lines(address + room)
        yield f"phones in the room: {address}{room}"
    else:
        yield "phones in the room cannot come in yet; for them: halfstep serve --host 0.0.0.0"
    yield "stop with Ctrl-C; all that was sent is kept"


def lets_others_in(host: str) -> bool:
    """True where other devices of the network can come in."""
    return host in _EVERY_ADDRESS or not _is_loopback(host)


def _is_loopback(host: str) -> bool:
    return host in {"localhost", "::1"} or host.startswith("127.")


def _qr_lines(address: str) -> Iterator[str]:
    """The address as squares that a phone's camera reads."""
    import io

    import segno

    text = io.StringIO()
    segno.make(address, error="m").terminal(out=text, compact=True)
    yield from text.getvalue().splitlines()
