"""What is believed of a proxy that stands before the pages, and which one?

A proxy takes what comes by TLS and passes it on. By which scheme and name it came, the proxy alone
knows; it says so in `X-Forwarded-Proto` and `X-Forwarded-Host` (common practice, no standard).
Whoever comes by another way could say the same, so both are believed only of who comes from the
proxy's own address. Of several values the last is the proxy's own. So is where a visitor comes
from, in `X-Forwarded-For`: failed tries to sign in are counted by it, as a digest that is soon
forgotten.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.types import Scope

from halfstep.errors import BriefError

Network = ipaddress.IPv4Network | ipaddress.IPv6Network
_SCHEMES = {"http", "https"}


@dataclass(frozen=True, slots=True)
class Proxy:
    """Who is believed.

    Attributes
    ----------
    networks : tuple of networks
        From where it comes.
    """

    networks: tuple[Network, ...]

    def passes_on(self, scope: Scope) -> bool:
        """True where a request comes from the proxy."""
        client = scope.get("client")
        try:
            address = ipaddress.ip_address(client[0] if client else "")
        except ValueError:
            return False
        mapped = getattr(address, "ipv4_mapped", None)  # as a listener for both families has it
        return any((mapped or address) in network for network in self.networks)


THIS_MACHINE = Proxy((ipaddress.ip_network("127.0.0.0/8"), ipaddress.ip_network("::1/128")))


def read_proxy(text: str) -> Proxy:
    """The proxy at an address, or in a network such as ``172.18.0.0/16``.

    Raises
    ------
    BriefError
        When it is none, or is everywhere.
    """
    try:
        network = ipaddress.ip_network(text.strip())
    except ValueError:
        raise BriefError(
            f"`behind_proxy` {text}: give the proxy's address, such as 192.0.2.4, or its network, "
            "such as 172.18.0.0/16; nothing for a proxy on this machine"
        ) from None
    if network.prefixlen == 0:
        raise BriefError(f"`behind_proxy` {text}: everybody would be believed; name the proxy")
    return Proxy((network,))


def passed_on(scope: Scope) -> Scope:
    """A request as it came to the proxy, by what that says."""
    headers = Headers(scope=scope)
    scheme = _last(headers, "x-forwarded-proto").lower()
    host = _last(headers, "x-forwarded-host") or headers.get("host", "")
    rest = [(name, value) for name, value in scope["headers"] if name != b"host"]
    return {
        **scope,
        "client": _client(headers) or scope["client"],
        "scheme": scheme if scheme in _SCHEMES else scope["scheme"],
        "headers": [(b"host", host.encode("latin-1")), *rest],
    }


def _client(headers: Headers) -> tuple[str, int] | None:
    """Where a visitor comes from; None where the proxy says nothing of it."""
    try:
        return str(ipaddress.ip_address(_last(headers, "x-forwarded-for"))), 0
    except ValueError:
        return None


def _last(headers: Headers, name: str) -> str:
    """What the proxy itself said, after what others before it may have said."""
    return ",".join(headers.getlist(name)).rpartition(",")[2].strip()
