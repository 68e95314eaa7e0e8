"""How do phones come in? By the desk's own address, or by a door beside it while it is open.

A desk that answers this machine alone needs no TLS: browsers trust what never leaves it. Phones
come over a network, and get no microphone without TLS. So for them the same pages are answered at
a second address, with TLS, while the teacher wants it.
"""

from __future__ import annotations

import socket
from dataclasses import dataclass
from pathlib import Path
from threading import Lock, Thread
from time import monotonic, sleep
from typing import TYPE_CHECKING

from halfstep.app.web.addresses import EVERY_ADDRESS, machine_names, shown_host
from halfstep.app.web.certificates import TlsFiles, own_certificate
from halfstep.errors import BriefError

if TYPE_CHECKING:
    import uvicorn
    from starlette.types import ASGIApp

CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"
"""Of TLS 1.2, as OpenSSL has it: what was listened to stays closed though a key be lost later.

Those of TLS 1.3 are all so, and older ones Python does not speak.
"""
_PATIENCE_S = 5.0
_CLOSES_S = 1.0
"""It may be asked to stop by somebody whom it has to answer yet."""


@dataclass(frozen=True, slots=True)
class OpenDoor:
    """Where other devices come in.

    Attributes
    ----------
    address : str
    tls : TlsFiles or None
        None where nothing is enciphered.
    """

    address: str
    tls: TlsFiles | None = None

    @property
    def fingerprint(self) -> str:
        """Of a certificate of our own, by which a phone's owner knows it; else empty."""
        return self.tls.fingerprint if self.tls and self.tls.is_own else ""


class PhoneDoor:
    """The way in for other devices.

    Parameters
    ----------
    folder : Path
        The data folder.
    port : int
        Of the door that is opened and closed; 0 takes a free one.
    tls : TlsFiles or None
        With what it is enciphered; None for a certificate of our own.
    always : OpenDoor or None
        The desk's own address, where that lets others in.
    """

    def __init__(
        self,
        folder: Path,
        port: int = 0,
        tls: TlsFiles | None = None,
        always: OpenDoor | None = None,
    ) -> None:
        self._folder = folder
        self._port = port
        self._tls = tls
        self._always = always
        self._lock = Lock()
        self._server: _ServerBeside | None = None
        self.standing = always

    @property
    def is_ours_to_close(self) -> bool:
        """True where it was opened beside the desk's own address."""
        return self._server is not None

    def open(self, app: ASGIApp) -> None:
        """Let other devices in, with TLS.

        Raises
        ------
        BriefError
            When the address cannot be listened at.
        StoreError
            When no certificate can be made.
        """
        with self._lock:
            if self.standing and self.standing.tls:
                return
            tls = self._tls or own_certificate(self._folder, machine_names())
            listener = listening(EVERY_ADDRESS, self._port)
            self._server = _ServerBeside(app, listener, tls)
            port = listener.getsockname()[1]
            self.standing = OpenDoor(f"https://{shown_host(tls.name or EVERY_ADDRESS)}:{port}", tls)

    def close(self) -> None:
        """Let other devices in no more, but as they always come."""
        with self._lock:
            if self._server:
                self._server.stop()
                self._server, self.standing = None, self._always


KEPT_ALIVE_S = 75
"""So long a line stays open on which nothing is asked.

Whoever asks on one that closes just then gets no answer: a proxy, which keeps its lines for a
minute as a rule, and a browser that sends a form, pass that on as a fault.
"""


def listening(host: str, port: int) -> socket.socket:
    """The open address.

    Raises
    ------
    BriefError
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise BriefError(
            f"`port` {port} at {host}: {error.strerror}; give another `port`"
        ) from None
    return listener


def page_server(app: ASGIApp, tls: TlsFiles | None) -> uvicorn.Server:
    """A server of the pages; of what a request says of itself, it believes nothing."""
    import uvicorn

    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_keep_alive=KEPT_ALIVE_S,
        ssl_certfile=tls.certificate if tls else None,
        ssl_keyfile=tls.key if tls else None,
        ssl_ciphers=CIPHERS,
    )
    return uvicorn.Server(config)


class _ServerBeside:
    """A server in a thread of its own; it answers as soon as it is made."""

    def __init__(self, app: ASGIApp, listener: socket.socket, tls: TlsFiles) -> None:
        self._server = page_server(app, tls)
        self._thread = Thread(target=self._run, args=(listener,), daemon=True)
        self._thread.start()
        patient_until = monotonic() + _PATIENCE_S
        while not self._server.started and monotonic() < patient_until:
            sleep(0.01)

    def _run(self, listener: socket.socket) -> None:
        with listener:
            self._server.run([listener])

    def stop(self) -> None:
        """Take nobody in any more; what is being answered is answered to its end."""
        self._server.should_exit = True
        self._thread.join(_CLOSES_S)
