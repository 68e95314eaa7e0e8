"""All addresses of the site, in the order of `docs/design.md`."""

from __future__ import annotations

from starlette.routing import BaseRoute

from halfstep.app.web.api_operations import api_routes
from halfstep.app.web.desk_routes import show_desk
from halfstep.app.web.door_routes import come_in, follow_link, go_out, show_door
from halfstep.app.web.take_routes import (
    answer,
    hear_once_more,
    show_my_take,
    show_my_takes,
    show_take,
    show_takes,
    take_backing,
    take_file,
    take_recording,
)
from halfstep.app.web.visit import done, shown

ROUTES: list[BaseRoute] = [
    shown("/", show_door),
    shown("/in/{word}", follow_link),
    done("/in/{word}", come_in),
    done("/out", go_out),
    shown("/desk", show_desk),
    shown("/takes", show_takes),
    shown("/takes/{take:int}", show_take),
    done("/takes/{take:int}/words", answer),
    done("/takes/{take:int}/again", hear_once_more),
    shown("/takes/{take:int}/recording", take_recording),
    shown("/takes/{take:int}/backing", take_backing),
    shown("/takes/{take:int}/files/{name}", take_file),
    shown("/my-takes", show_my_takes),
    shown("/my-takes/{take:int}", show_my_take),
    *api_routes(),
]
