"""The site on this machine: an address to open, and workers beside it, until it is stopped."""

from __future__ import annotations

import signal
import sys
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import TYPE_CHECKING

from halfstep.app.web.addresses import LOOPBACK, lets_others_in, machine_names, shown_host
from halfstep.errors import BriefError

if TYPE_CHECKING:
    from halfstep.app.web.certificates import TlsFiles
    from halfstep.app.web.phone_door import OpenDoor
    from halfstep.app.web.proxy import Proxy
    from halfstep.app.web.watched import Told
    from halfstep.school.database import School

PORT = 8765


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
        The next one is that of the door for phones.
    opens_browser : bool
        On a desktop.
    tls : tuple of Path or None
        A certificate and its key; empty for one of our own; None for no TLS.
    behind_proxy : str or None
        The address or network of a proxy that stands before the pages; empty for one on this
        machine; None where there is none.
    workers : int or None
        How many processes do jobs beside the pages; 0 where others do them (``halfstep work``).
    metrics : str or None
        Where numbers are for who watches over a server; None for nowhere.
    """

    folder: Path
    host: str = LOOPBACK
    port: int = PORT
    opens_browser: bool = True
    tls: tuple[Path, ...] | None = None
    behind_proxy: str | None = None
    workers: int | None = None
    metrics: str | None = None


def serve_site(request: ServeSite) -> None:
    """Serve the pages until the process is told to stop.

    Raises
    ------
    BriefError
        When the address cannot be listened at, a certificate cannot be used, or a proxy is none.
    StoreError
        When the folder cannot be used.
    """
    from halfstep.app.ear import Ear
    from halfstep.app.job_workers import JobWorkers
    from halfstep.app.mail import mail_server
    from halfstep.app.tasks.demo_tasks import make_demo
    from halfstep.app.web.phone_door import OpenDoor, PhoneDoor, listening, page_server
    from halfstep.app.web.site import desk_site
    from halfstep.app.web.warming import warm_beside
    from halfstep.school.database import School
    from halfstep.school.invitations import desk_word, door_secret
    from halfstep.school.time_zone import live_in_zone

    proxy, mail = _proxy(request), mail_server()
    with School(request.folder) as school:
        live_in_zone(school)
        tls = _tls(request)
        with (
            _watching(request, school) as told,
            listening(request.host, request.port) as listener,
            JobWorkers(school, request.workers) as workers,
            Ear(school) as ear,
        ):
            scheme, port = "https" if tls else "http", listener.getsockname()[1]
            lets_in = lets_others_in(request.host)
            host = shown_host((lets_in and tls and tls.name) or request.host)
            door = OpenDoor(f"{scheme}://{host}:{port}", tls)
            always = door if lets_in and proxy is None else None
            phones = PhoneDoor(school.folder, request.port and port + 1, tls, always)
            app = desk_site(
                school,
                names=(request.host, *(tls.names if tls else ())),
                wake=workers.wake,
                phones=phones,
                proxy=proxy,
                hear=ear.tell,
                told=told,
                mail=mail,
            )
            make_demo(school)
            word = desk_word(door_secret(school.files))
            for line in greeting(request, door, word, room=_room(school)):
                print(line, flush=True)
            if request.opens_browser and sys.stdout.isatty():
                Timer(0.5, webbrowser.open, [f"{door.address}/in/{word}"]).start()
            warm_beside()
            # by the other signal workers are told as well
            signal.signal(signal.SIGTERM, signal.default_int_handler)
            with suppress(KeyboardInterrupt):
                page_server(app, tls).run([listener])


@contextmanager
def _watching(request: ServeSite, school: School) -> Iterator[list[Told]]:
    """Who is told of each answer.

    Raises
    ------
    BriefError
    """
    from halfstep.app.log_lines import is_logging, log_request

    told: list[Told] = [log_request] if is_logging() else []
    if request.metrics is None:
        yield told
        return
    from halfstep.app.metrics import RequestNumbers, metrics_at

    numbers = RequestNumbers()
    with metrics_at(request.metrics, school, numbers):
        yield [*told, numbers.tell]


def _tls(request: ServeSite) -> TlsFiles | None:
    """The certificate and key that are meant.

    Raises
    ------
    BriefError, StoreError
    """
    if request.tls is None:
        return None
    from halfstep.app.web.certificates import given_certificate, own_certificate

    if not request.tls:
        return own_certificate(request.folder, machine_names(request.host))
    if len(request.tls) != 2:
        raise BriefError("`tls`: give the files of a certificate and of its key, or neither")
    return given_certificate(*request.tls)


def _proxy(request: ServeSite) -> Proxy | None:
    """The proxy that is meant.

    Raises
    ------
    BriefError
    """
    from halfstep.app.web.proxy import THIS_MACHINE, read_proxy

    if request.behind_proxy is None:
        return None
    return read_proxy(request.behind_proxy) if request.behind_proxy else THIS_MACHINE


def _room(school: School) -> str:
    """Where phones in the room come in: by the link of the class, where there is but one."""
    from halfstep.school.classes import every_class
    from halfstep.school.invitations import (
        door_secret,
        invite_class,
        link_word,
        standing_invitation,
    )

    with school.reading() as connection:
        classes = every_class(connection)
    if len(classes) != 1:
        return ""
    with school.writing() as connection:
        link = standing_invitation(connection, invite_class(connection, classes[0].number))
    return f"/in/{link_word(door_secret(school.files), link.number, link.round)}"


def greeting(request: ServeSite, door: OpenDoor, word: str, *, room: str = "") -> Iterator[str]:
    """What is printed: the desk's address, and how phones come in.

    Parameters
    ----------
    request : ServeSite
    door : OpenDoor
        Where it answers.
    word : str
        The teacher's own.
    room : str
        The path by which the phones of a class come in.
    """
    yield f"the desk: {door.address}/in/{word}"
    if request.behind_proxy is not None:
        yield f"by the proxy: its address, and then /in/{word}"
    elif lets_others_in(request.host):
        yield from _qr_lines(door.address + room)
        yield f"phones in the room: {door.address}{room}"
        yield from _about_phones(door)
    else:
        yield "phones in the room cannot come in yet; the desk has a button that lets them in"
    yield "stop with Ctrl-C; all that was sent is kept"


def _about_phones(door: OpenDoor) -> Iterator[str]:
    """What the owners of phones should know."""
    if door.tls is None:
        yield "they get no microphone this way, since nothing is enciphered; with --tls they do"
    elif door.fingerprint:
        yield "they are warned once that nobody vouches for this computer, and the warning is"
        yield "right; what is sent is enciphered all the same. Go on where the fingerprint is"
        yield door.fingerprint


def _qr_lines(address: str) -> Iterator[str]:
    """The address as squares that a phone's camera reads."""
    import io

    import segno

    text = io.StringIO()
    segno.make(address, error="m").terminal(out=text, compact=True)
    yield from text.getvalue().splitlines()
