"""All addresses of the site, in the order of `docs/design.md`."""

from __future__ import annotations

from starlette.routing import BaseRoute

from halfstep.app.rights import ANYBODY, DESK, Deed, Right
from halfstep.app.tasks.room_places import NEXT_BASE, PLAN_BASE, SHEET_BASE
from halfstep.app.web.account_routes import (
    ask_for_codes,
    choose_mail_address,
    choose_password,
    do_begin_codes,
    do_end_codes,
    do_sign_in,
    join,
    show_account,
    show_join,
    show_sign_in,
    sign_out_elsewhere,
)
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
    choose_teachers,
    do_end_class,
    invite_everybody,
    make_class,
    make_player,
    make_players,
    open_class,
    put_away,
    show_class,
    show_classes,
    show_links,
    take_out,
)
from halfstep.app.web.consent_routes import say_one_consent, say_players_age, show_kept
from halfstep.app.web.desk_routes import end_demo, show_desk
from halfstep.app.web.door_routes import come_in, follow_link, go_out, show_door
from halfstep.app.web.doubling_routes import (
    add_players_instrument,
    choose_own_instrument,
    choose_players_instrument,
)
from halfstep.app.web.forgotten_routes import ask_by_mail, show_forgotten
from halfstep.app.web.hand_out_routes import (
    ask_to_hand_out,
    hand_out,
    hand_out_again,
    print_class,
    save_set,
    show_hand_out,
    take_back,
)
from halfstep.app.web.health_routes import show_health, show_readiness
from halfstep.app.web.heard_notes_routes import show_heard_notes
from halfstep.app.web.invitation_routes import draw_link, make_link_anew, withdraw_link
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
from halfstep.app.web.people_routes import (
    give_new_link,
    let_somebody_in,
    let_somebody_out,
    show_log,
    show_people,
)
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
from halfstep.app.web.roster_routes import save_roster, take_roster
from halfstep.app.web.settings_routes import keep_settings, show_settings
from halfstep.app.web.sharing_routes import hear_shared_take, share_with_class
from halfstep.app.web.student_routes import (
    ask_to_erase,
    change_facts,
    end_one_device,
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
from halfstep.app.web.ward_routes import show_wards
from halfstep.app.web.week_routes import print_week, send_in, show_sheet_file, show_week
from halfstep.school.belonging import Thing

OWN_ACCOUNT = Right(Deed.OWN_ACCOUNT)
HOUSE = Right(Deed.KEEP_HOUSE)
TAUGHT = Right(Deed.KEEP_HOUSE, Thing.CLASS)
LOG = Right(Deed.READ_LOG)
WARDS = Right(Deed.SEE_WARDS)
CHART = Right(Deed.KEEP_DESK, Thing.CHART)
LINE = Right(Deed.KEEP_DESK, Thing.LINE, "line")
HAND_OUT = Right(Deed.KEEP_DESK, Thing.HAND_OUT)
CLASS = Right(Deed.KEEP_DESK, Thing.CLASS)
INVITATION = Right(Deed.KEEP_DESK, Thing.INVITATION)
STUDENT = Right(Deed.KEEP_DESK, Thing.STUDENT)
STUDENTS_WORK = Right(Deed.SEE_WORK, Thing.STUDENT)
SHEET = Right(Deed.SEE_WORK, Thing.SHEET)
ANSWERS = Right(Deed.ANSWER_TAKE)
TAKE = Right(Deed.ANSWER_TAKE, Thing.TAKE, "take")
HEARD_TAKE = Right(Deed.SEE_WORK, Thing.TAKE, "take")
SENDING = Right(Deed.SEND_TAKE)
PRACTISING = Right(Deed.PRACTISE)
OWN_TAKE = Right(Deed.PRACTISE, Thing.TAKE, "take")
OWN_SHEET = Right(Deed.PRACTISE, Thing.SHEET, "sheet")
PIECES = {PLAN_BASE: PRACTISING, SHEET_BASE: OWN_SHEET, NEXT_BASE: OWN_TAKE}
"""Where a piece of the practice room lies."""

ROUTES: list[BaseRoute] = [
    shown("/", ANYBODY, show_door),
    shown("/in/{word}", ANYBODY, follow_link),
    done("/in/{word}", ANYBODY, come_in),
    done("/out", ANYBODY, go_out),
    shown("/sign-in", ANYBODY, show_sign_in),
    done("/sign-in", ANYBODY, do_sign_in),
    shown("/forgotten", ANYBODY, show_forgotten),
    done("/forgotten", ANYBODY, ask_by_mail),
    shown("/join/{word}", ANYBODY, show_join),
    done("/join/{word}", ANYBODY, join),
    shown("/account", OWN_ACCOUNT, show_account),
    done("/account/password", OWN_ACCOUNT, choose_password),
    done("/account/mail", OWN_ACCOUNT, choose_mail_address),
    done("/account/sessions/{session:int}/end", OWN_ACCOUNT, sign_out_elsewhere),
    shown("/account/codes", OWN_ACCOUNT, ask_for_codes),
    done("/account/codes", OWN_ACCOUNT, do_begin_codes),
    done("/account/codes/end", OWN_ACCOUNT, do_end_codes),
    shown("/people", DESK, show_people),
    done("/people", DESK, let_somebody_in),
    done("/people/{account:int}/link", DESK, give_new_link),
    done("/people/{account:int}/end", DESK, let_somebody_out),
    shown("/people/log", LOG, show_log),
    shown("/wards", WARDS, show_wards),
    shown("/kept", PRACTISING, show_kept),
    shown("/settings", DESK, show_settings),
    done("/settings", HOUSE, keep_settings),
    shown("/health", ANYBODY, show_health),
    shown("/ready", ANYBODY, show_readiness),
    shown("/desk", DESK, show_desk),
    done("/demo/remove", HOUSE, end_demo),
    done("/phones/open", HOUSE, let_phones_in),
    done("/phones/close", HOUSE, let_phones_in_no_more),
    shown("/calendar/{word}.ics", ANYBODY, show_calendar),
    shown("/charts", DESK, show_charts),
    done("/charts", DESK, begin_chart),
    done("/charts/drawn", DESK, draw_new),
    shown("/charts/{number:int}", CHART, show_chart),
    done("/charts/{number:int}", CHART, keep_changes),
    done("/charts/{number:int}/scales", CHART, choose_scale),
    done("/charts/{number:int}/copy", CHART, copy_as_text),
    shown("/charts/{number:int}/remove", CHART, ask_to_remove),
    done("/charts/{number:int}/remove", CHART, do_remove),
    done("/charts/{number:int}/lines", CHART, write_line),
    done("/charts/{number:int}/offered", CHART, write_offer),
    shown("/lines/{line:int}", LINE, show_line),
    done("/lines/{line:int}/edits", LINE, edit_note),
    done("/lines/{line:int}/undo", LINE, undo_edit),
    done("/lines/{line:int}/redo", LINE, redo_edit),
    done("/lines/{line:int}/lock", LINE, lock),
    done("/lines/{line:int}/anew", LINE, write_anew),
    shown("/lines/{line:int}/versions", LINE, show_versions),
    shown("/lines/{line:int}/line.{suffix}", LINE, save_line),
    shown("/lines/{line:int}/parts/{part}.m4a", LINE, hear_part),
    done("/lines/{line:int}/remove", LINE, end_line),
    shown("/hand-outs/new", DESK, ask_to_hand_out),
    done("/hand-outs", DESK, hand_out),
    shown("/hand-outs/{number:int}", HAND_OUT, show_hand_out),
    done("/hand-outs/{number:int}/again", HAND_OUT, hand_out_again),
    done("/hand-outs/{number:int}/withdraw", HAND_OUT, take_back),
    shown("/hand-outs/{number:int}/class.pdf", HAND_OUT, print_class),
    shown("/hand-outs/{number:int}/set.zip", HAND_OUT, save_set),
    shown("/sheets/{number:int}/{name}", SHEET, show_sheet_file),
    shown("/classes", DESK, show_classes),
    done("/classes", DESK, make_class),
    shown("/classes/{number:int}", CLASS, show_class),
    done("/classes/{number:int}/player", CLASS, make_player),
    done("/classes/{number:int}/players", CLASS, make_players),
    shown("/classes/{number:int}/roster.csv", CLASS, save_roster),
    done("/classes/{number:int}/roster", CLASS, take_roster),
    done("/classes/{number:int}/door", CLASS, open_class),
    done("/classes/{number:int}/teachers", TAUGHT, choose_teachers),
    shown("/classes/{number:int}/links", CLASS, show_links),
    done("/classes/{number:int}/links", CLASS, invite_everybody),
    done("/classes/{number:int}/away", CLASS, put_away),
    done("/classes/{number:int}/back", CLASS, take_out),
    done("/classes/{number:int}/remove", CLASS, do_end_class),
    shown("/invitations/{number:int}/link.svg", INVITATION, draw_link),
    done("/invitations/{number:int}/anew", INVITATION, make_link_anew),
    done("/invitations/{number:int}/withdraw", INVITATION, withdraw_link),
    shown("/students/{number:int}", STUDENT, show_student),
    done("/students/{number:int}", STUDENT, change_facts),
    done("/students/{number:int}/instruments", STUDENT, add_players_instrument),
    done("/students/{number:int}/instrument", STUDENT, choose_players_instrument),
    done("/students/{number:int}/door", STUDENT, open_door),
    done("/students/{number:int}/devices/{device:int}/end", STUDENT, end_one_device),
    shown("/students/{number:int}/way.svg", STUDENTS_WORK, show_way),
    shown("/students/{number:int}/week.pdf", STUDENTS_WORK, print_week),
    shown("/students/{number:int}/standing", STUDENT, show_student_standing),
    shown("/classes/{number:int}/standing", CLASS, show_class_standing),
    done("/students/{number:int}/consents", STUDENTS_WORK, say_one_consent),
    done("/students/{number:int}/age", STUDENT, say_players_age),
    shown("/students/{number:int}/export.zip", STUDENTS_WORK, save_student),
    shown("/students/{number:int}/erase", STUDENT, ask_to_erase),
    done("/students/{number:int}/erase", STUDENT, erase),
    shown("/takes", ANSWERS, show_takes),
    shown("/takes/{take:int}", TAKE, show_take),
    done("/takes/{take:int}/words", TAKE, answer),
    done("/takes/{take:int}/again", TAKE, hear_once_more),
    done("/takes/{take:int}/share", TAKE, share_with_class),
    shown("/takes/{take:int}/recording", HEARD_TAKE, take_recording),
    shown("/takes/{take:int}/backing", HEARD_TAKE, take_backing),
    shown("/takes/{take:int}/files/{name}", HEARD_TAKE, take_file),
    shown("/week", PRACTISING, show_week),
    done("/my-instrument", PRACTISING, choose_own_instrument),
    shown("/shared/{take:int}/recording", PRACTISING, hear_shared_take),
    done("/week/{hand_out:int}/take", SENDING, send_in),
    taken("/room/recordings", SENDING, begin_room_recording, most=MOST_WORDS_BYTES),
    shown("/room/recordings/{key}", SENDING, show_room_recording),
    shown("/room/recordings/{key}/notes", SENDING, show_heard_notes),
    taken(
        "/room/recordings/{key}", SENDING, grow_room_recording, method="PUT", most=MOST_PIECE_BYTES
    ),
    taken("/room/recordings/{key}", SENDING, discard_room_recording, method="DELETE", most=0),
    taken("/room/recordings/{key}/end", SENDING, end_room_recording, most=MOST_WORDS_BYTES),
    done("/room/files", SENDING, send_room_file),
    shown("/room", PRACTISING, show_room),
    shown("/room/items/{item:int}", PRACTISING, open_item),
    shown(PLAN_BASE, PRACTISING, show_plan_item),
    done(f"{PLAN_BASE}/word", PRACTISING, say_word),
    shown(SHEET_BASE, OWN_SHEET, show_sheet_step),
    shown(NEXT_BASE, OWN_TAKE, show_next),
    shown("/room/takes/{take:int}/told", OWN_TAKE, show_told),
    *(shown(f"{base}/piece", right, show_piece) for base, right in PIECES.items()),
    *(shown(f"{base}/turn", right, show_turn) for base, right in PIECES.items()),
    *(shown(f"{base}/systems", right, show_systems) for base, right in PIECES.items()),
    *(shown(f"{base}/sound/{{part}}", right, hear_stretch) for base, right in PIECES.items()),
    shown("/my-takes", PRACTISING, show_my_takes),
    shown("/my-takes/{take:int}", HEARD_TAKE, show_my_take),
    *api_routes(),
]
