"""A server that takes mail and keeps it: as little of SMTP (RFC 5321) as a sender asks for."""

from __future__ import annotations

import socketserver
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from queue import Queue
from threading import Thread


@dataclass(frozen=True, slots=True)
class MailCatcher:
    """What came to whom, by the order in which it came."""

    port: int
    caught: Queue[tuple[list[str], EmailMessage]] = field(default_factory=Queue)

    def next(self) -> tuple[list[str], EmailMessage]:
        """To whom the next message went, and the message."""
        return self.caught.get(timeout=20)


@contextmanager
def catching_mail() -> Iterator[MailCatcher]:
    """Take mail on this machine inside the ``with`` block."""

    class Handler(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            to: list[str] = []
            self.wfile.write(b"220 here\r\n")
            for line in self.rfile:
                verb = line.strip().upper()
                if verb.startswith(b"RCPT TO:"):
                    to.append(line.decode().partition("<")[2].partition(">")[0])
                elif verb == b"DATA":
                    self.wfile.write(b"354 go on\r\n")
                    parts = [
                        part.removeprefix(b".") for part in iter(self.rfile.readline, b".\r\n")
                    ]
                    message = message_from_bytes(b"".join(parts), policy=policy.default)
                    catcher.caught.put((to, message))
                self.wfile.write(b"221 bye\r\n" if verb == b"QUIT" else b"250 well\r\n")
                if verb == b"QUIT":
                    return

    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler) as server:
        catcher = MailCatcher(server.server_address[1])
        thread = Thread(target=server.serve_forever, args=(0.02,), daemon=True)
        thread.start()
        yield catcher
        server.shutdown()
        thread.join()
