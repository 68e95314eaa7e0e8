"""How was each request answered, by which route, and how soon?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from time import perf_counter

from starlette.routing import BaseRoute, Match, Mount, Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

Told = Callable[[str, str, int, float], object]
"""Is told the method, the route, the status and the seconds."""
ELSEWHERE = "none"
"""The route of what is none of ours."""


class Watched:
    """Stands before the routes, and tells of each answer.

    Parameters
    ----------
    app : ASGIApp
    routes : sequence of BaseRoute
    told : sequence of callable
    """

    def __init__(self, app: ASGIApp, routes: Sequence[BaseRoute], told: Sequence[Told]) -> None:
        self._app, self._routes, self._told = app, routes, told

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let the routes answer, and tell."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        status, begun_s = 500, perf_counter()
        route = self._route(scope)

        async def send_seen(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, send_seen)
        finally:
            for tell in self._told:
                tell(scope["method"], route, status, perf_counter() - begun_s)

    def _route(self, scope: Scope) -> str:
        """The address with names in the place of numbers and words."""
        for route in self._routes:
            if isinstance(route, Route | Mount) and route.matches(scope)[0] is not Match.NONE:
                return route.path
        return ELSEWHERE
