"""``halfstep serve``: the same program in a browser, for a teacher and the phones in the room."""

from __future__ import annotations

from halfstep.app.terminal.arguments import CommandParser, wrapped_help
from halfstep.app.terminal.student_command import add_data
from halfstep.errors import BriefError, MissingExtra

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse

DESCRIPTION = "Open the desk in a browser: charts, lines, classes, what is handed out and sent."
EXAMPLES = (
    "halfstep serve",
    "halfstep serve --host 0.0.0.0 --tls",
    "halfstep serve --host 0.0.0.0 --tls certificate.pem key.pem",
    "halfstep serve --behind-proxy",
    "halfstep serve --workers 0",
    "halfstep serve --port 9000 --data ~/evening-class",
)
LARGEST_PORT = 65535
MOST_WORKERS = 64
"""On one machine: each takes a quarter of a gigabyte and more."""


def epilog() -> str:
    """Who can come in, and what to mind."""
    return wrapped_help(
        "One address is printed; it opens the desk and is the teacher's alone. Players come in by "
        "links that the desk makes and can withdraw. By itself only this machine is served, until "
        "the desk is asked to let phones in; --host 0.0.0.0 serves the network it is in, which "
        "should be one you trust. Browsers give a microphone only where what is sent is "
        "enciphered: --tls alone takes a certificate of this computer's own making, of which "
        "every phone warns once, as nobody else vouches for it; --tls CERT KEY takes yours, in "
        "PEM. --behind-proxy is for a proxy that does this, at the address PROXY (default: on this "
        "machine); from there alone X-Forwarded-Proto and X-Forwarded-Host are believed. "
        "Recordings of minors need a guardian's word first; local rules come before this program."
    )


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument(
        "--host", metavar="ADDRESS", default="127.0.0.1", help="where to listen (default: here)"
    )
    parser.add_argument("--port", metavar="N", default="8765", help="(default: 8765)")
    parser.add_argument(
        "--tls", metavar="FILE", nargs="*", help="encipher what is sent: CERT and KEY, or none"
    )
    parser.add_argument(
        "--behind-proxy", metavar="PROXY", nargs="?", const="", help="who passes on what is sent"
    )
    add_workers(parser)
    add_metrics(parser)
    parser.add_argument("--no-browser", action="store_true", help="open no browser")
    add_data(parser)


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Serve until stopped."""
    del parser
    from importlib.util import find_spec
    from pathlib import Path

    from halfstep.school.data_folder import data_folder

    folder, port = data_folder(arguments.data), _port(arguments.port)
    missing = [name for name in ("starlette", "uvicorn", "jinja2", "segno") if not find_spec(name)]
    if missing:
        raise MissingExtra(
            f"the pages need {missing[0]}, which is not installed: pip install 'halfstep[web]', "
            "or scripts/start serve from a copy of the repository"
        )
    demand_installed(arguments.metrics)
    from halfstep.app.web.serve import ServeSite, serve_site

    serve_site(
        ServeSite(
            folder,
            arguments.host,
            port,
            not arguments.no_browser,
            None if arguments.tls is None else tuple(map(Path, arguments.tls)),
            arguments.behind_proxy,
            worker_count(arguments.workers),
            arguments.metrics,
        )
    )


def add_workers(parser: CommandParser) -> None:
    """How many processes do jobs."""
    parser.add_argument(
        "--workers",
        metavar="N",
        help="processes that do jobs (default: a core less than there are)",
    )


def add_metrics(parser: CommandParser) -> None:
    """Where numbers are for who watches over a server."""
    parser.add_argument(
        "--metrics",
        metavar="PORT",
        help="answer with numbers for who watches over a server, there: 9100, or 10.0.0.5:9100",
    )


def demand_installed(typed: str | None) -> None:
    """Refuse to answer with numbers where what writes them is not installed.

    Raises
    ------
    MissingExtra
    """
    from importlib.util import find_spec

    if typed is not None and not find_spec("prometheus_client"):
        raise MissingExtra("`metrics` needs halfstep[district]: pip install 'halfstep[district]'")


def worker_count(text: str | None) -> int | None:
    """The number that was typed; None for none.

    Raises
    ------
    BriefError
    """
    if text is None:
        return None
    if not (text.isascii() and text.isdecimal() and int(text) <= MOST_WORKERS):
        raise BriefError(f"`workers` {text}: give a number from 0 to {MOST_WORKERS}")
    return int(text)


def _port(text: str) -> int:
    if text.isascii() and text.isdecimal() and int(text) <= LARGEST_PORT:
        return int(text)
    raise BriefError(f"`port` {text}: give a number up to {LARGEST_PORT}; 0 takes a free one")
