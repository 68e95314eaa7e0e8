"""A port of this machine that nobody listens at."""

from __future__ import annotations

import socket


def free_port() -> int:
    """One that was free a moment ago."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port
