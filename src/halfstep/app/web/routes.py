"""All addresses of the site, in the order of `docs/design.md`."""

from __future__ import annotations

from starlette.routing import BaseRoute

from halfstep.app.web.api_operations import api_routes
from halfstep.app.web.desk_routes import show_desk
from halfstep.app.web.door_routes import come_in, follow_link, go_out, show_door
from halfstep.app.web.visit import done, shown

ROUTES: list[BaseRoute] = [
    shown("/", show_door),
    shown("/in/{word}", follow_link),
    done("/in/{word}", come_in),
    done("/out", go_out),
    shown("/desk", show_desk),
    *api_routes(),
]
