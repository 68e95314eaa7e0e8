"""All addresses of the site, in the order of `docs/design.md`."""

from __future__ import annotations

from starlette.routing import BaseRoute

from halfstep.app.tasks.room_places import BASES, NEXT_BASE, PLAN_BASE, SHEET_BASE
from halfstep.app.web.api_operations import api_routes
from halfstep.app.web.calendar_routes import show_calendar
from halfstep.app.web.chart_routes import (
    ask_to_remove,
    begin_chart,
    choose_scale,
    copy_as_text,
    do_remove,
    draw_new,
    keep_changes,
    show_chart,
    show_charts,
)
from halfstep.app.web.class_routes import (
    do_end_class,
    invite_everybody,
    make_class,
    make_player,
    make_players,
    open_class,
    show_class,
    show_classes,
    show_links,
)
from halfstep.app.web.desk_routes import end_demo, show_desk
from halfstep.app.web.door_routes import come_in, follow_link, go_out, show_door
from halfstep.app.web.hand_out_routes import (
    ask_to_hand_out,
    hand_out,
    hand_out_again,
    print_class,
    save_set,
    show_hand_out,
    take_back,
)
from halfstep.app.web.heard_notes_routes import show_heard_notes
from halfstep.app.web.invitation_routes import draw_link, withdraw_link
from halfstep.app.web.line_routes import (
    edit_note,
    end_line,
    lock,
    redo_edit,
    save_line,
    show_line,
    show_versions,
    undo_edit,
    write_anew,
    write_line,
    write_offer,
)
from halfstep.app.web.line_sound import hear_part
from halfstep.app.web.phone_routes import let_phones_in, let_phones_in_no_more
from halfstep.app.web.piece_routes import hear_stretch, show_piece, show_systems, show_turn
from halfstep.app.web.progress_routes import (
    show_class_standing,
    show_student_standing,
    show_way,
)
from halfstep.app.web.recording_routes import (
    MOST_PIECE_BYTES,
    MOST_WORDS_BYTES,
    begin_room_recording,
    discard_room_recording,
    end_room_recording,
    grow_room_recording,
    send_room_file,
    show_room_recording,
)
from halfstep.app.web.room_routes import (
    open_item,
    say_word,
    show_next,
    show_plan_item,
    show_room,
    show_sheet_step,
    show_told,
)
from halfstep.app.web.student_routes import (
    ask_to_erase,
    change_facts,
    erase,
    open_door,
    save_student,
    show_student,
)
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
from halfstep.app.web.visit import done, shown, taken
from halfstep.app.web.week_routes import print_week, send_in, show_sheet_file, show_week

ROUTES: list[BaseRoute] = [
    shown("/", show_door),
    shown("/in/{word}", follow_link),
    done("/in/{word}", come_in),
    done("/out", go_out),
    shown("/desk", show_desk),
    done("/demo/remove", end_demo),
    done("/phones/open", let_phones_in),
    done("/phones/close", let_phones_in_no_more),
    shown("/calendar/{word}.ics", show_calendar),
    shown("/charts", show_charts),
    done("/charts", begin_chart),
    done("/charts/drawn", draw_new),
    shown("/charts/{number:int}", show_chart),
    done("/charts/{number:int}", keep_changes),
    done("/charts/{number:int}/scales", choose_scale),
    done("/charts/{number:int}/copy", copy_as_text),
    shown("/charts/{number:int}/remove", ask_to_remove),
    done("/charts/{number:int}/remove", do_remove),
    done("/charts/{number:int}/lines", write_line),
    done("/charts/{number:int}/offered", write_offer),
    shown("/lines/{line:int}", show_line),
    done("/lines/{line:int}/edits", edit_note),
    done("/lines/{line:int}/undo", undo_edit),
    done("/lines/{line:int}/redo", redo_edit),
    done("/lines/{line:int}/lock", lock),
    done("/lines/{line:int}/anew", write_anew),
    shown("/lines/{line:int}/versions", show_versions),
    shown("/lines/{line:int}/line.{suffix}", save_line),
    shown("/lines/{line:int}/parts/{part}.m4a", hear_part),
    done("/lines/{line:int}/remove", end_line),
    shown("/hand-outs/new", ask_to_hand_out),
    done("/hand-outs", hand_out),
    shown("/hand-outs/{number:int}", show_hand_out),
    done("/hand-outs/{number:int}/again", hand_out_again),
    done("/hand-outs/{number:int}/withdraw", take_back),
    shown("/hand-outs/{number:int}/class.pdf", print_class),
    shown("/hand-outs/{number:int}/set.zip", save_set),
    shown("/sheets/{number:int}/{name}", show_sheet_file),
    shown("/classes", show_classes),
    done("/classes", make_class),
    shown("/classes/{number:int}", show_class),
    done("/classes/{number:int}/player", make_player),
    done("/classes/{number:int}/players", make_players),
    done("/classes/{number:int}/door", open_class),
    shown("/classes/{number:int}/links", show_links),
    done("/classes/{number:int}/links", invite_everybody),
    done("/classes/{number:int}/remove", do_end_class),
    shown("/invitations/{number:int}/link.svg", draw_link),
    done("/invitations/{number:int}/withdraw", withdraw_link),
    shown("/students/{number:int}", show_student),
    done("/students/{number:int}", change_facts),
    done("/students/{number:int}/door", open_door),
    shown("/students/{number:int}/way.svg", show_way),
    shown("/students/{number:int}/week.pdf", print_week),
    shown("/students/{number:int}/standing", show_student_standing),
    shown("/classes/{number:int}/standing", show_class_standing),
    shown("/students/{number:int}/export.zip", save_student),
    shown("/students/{number:int}/erase", ask_to_erase),
    done("/students/{number:int}/erase", erase),
    shown("/takes", show_takes),
    shown("/takes/{take:int}", show_take),
    done("/takes/{take:int}/words", answer),
    done("/takes/{take:int}/again", hear_once_more),
    shown("/takes/{take:int}/recording", take_recording),
    shown("/takes/{take:int}/backing", take_backing),
    shown("/takes/{take:int}/files/{name}", take_file),
    shown("/week", show_week),
    done("/week/{hand_out:int}/take", send_in),
    taken("/room/recordings", begin_room_recording, most=MOST_WORDS_BYTES),
    shown("/room/recordings/{key}", show_room_recording),
    shown("/room/recordings/{key}/notes", show_heard_notes),
    taken("/room/recordings/{key}", grow_room_recording, method="PUT", most=MOST_PIECE_BYTES),
    taken("/room/recordings/{key}", discard_room_recording, method="DELETE", most=0),
    taken("/room/recordings/{key}/end", end_room_recording, most=MOST_WORDS_BYTES),
    done("/room/files", send_room_file),
    shown("/room", show_room),
    shown("/room/items/{item:int}", open_item),
    shown(PLAN_BASE, show_plan_item),
    done(f"{PLAN_BASE}/word", say_word),
    shown(SHEET_BASE, show_sheet_step),
    shown(NEXT_BASE, show_next),
    shown("/room/takes/{take:int}/told", show_told),
    *(shown(f"{base}/piece", show_piece) for base in BASES),
    *(shown(f"{base}/turn", show_turn) for base in BASES),
    *(shown(f"{base}/systems", show_systems) for base in BASES),
    *(shown(f"{base}/sound/{{part}}", hear_stretch) for base in BASES),
    shown("/my-takes", show_my_takes),
    shown("/my-takes/{take:int}", show_my_take),
    *api_routes(),
]
