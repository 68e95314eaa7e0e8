"""By which names and addresses is this machine known to others, and to itself alone?"""

from __future__ import annotations

import ipaddress
import socket

LOOPBACK = "127.0.0.1"
EVERY_ADDRESS = "0.0.0.0"  # noqa: S104 (its name; nothing listens to it unless asked)
_ALL = {EVERY_ADDRESS, "::", ""}
_EXAMPLES = {socket.AF_INET: "192.0.2.1", socket.AF_INET6: "2001:db8::1"}
"""Addresses for examples (RFC 5737, RFC 3849), by which nobody is reached."""


def is_loopback(host: str) -> bool:
    """True for a name or address by which this machine alone comes to itself."""
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return host.lower() == "localhost" or host.lower().endswith(".localhost")


def lets_others_in(host: str) -> bool:
    """True where other devices of the network can come in."""
    return host in _ALL or not is_loopback(host)


def shown_host(host: str) -> str:
    """The host as another device of the same network may call it, as it stands in an address."""
    name = (_own_address(socket.AF_INET) or LOOPBACK) if host in _ALL else host
    return f"[{name}]" if ":" in name else name


def host_names() -> tuple[str, ...]:
    """The names of this machine, without its addresses."""
    name = socket.gethostname().lower()
    return ("localhost", name, f"{name}.local")


def machine_names(host: str = "") -> frozenset[str]:
    """All names and addresses of this machine that others, or itself, may come by.

    Parameters
    ----------
    host : str
        One more, unless it stands for all of them.
    """
    addresses = map(_own_address, _EXAMPLES)
    return frozenset({*host_names(), LOOPBACK, "::1", host, *addresses} - _ALL)


def _own_address(family: socket.AddressFamily) -> str:
    """The address by which this machine is known in its network; empty where it is in none.

    Nothing is sent to learn it.
    """
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((_EXAMPLES[family], 9))
            name: str = probe.getsockname()[0]
    except OSError:
        return ""
    return name
