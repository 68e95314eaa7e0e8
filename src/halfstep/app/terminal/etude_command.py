"""``halfstep etude``: one step over a chart for one player, on the terminal or as a file."""

from __future__ import annotations

from halfstep.app.terminal.arguments import (
    CommandParser,
    add_ending,
    add_print_setting,
    add_reading,
    chart_help,
    request_from,
)
from halfstep.errors import BriefError

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from halfstep.services.etude_reply import EtudeReply

DESCRIPTION = "Write one etude over a chart. Notes are those the player reads."
EXAMPLES = (
    'halfstep etude "| Am7 D7 | Gmaj7 |" --step cells --for trumpet',
    'halfstep etude "| Am7 D7 | Gmaj7 |" --step 6 --level advanced --seed 4 --out line.pdf',
    'halfstep etude "| Am7 D7 | Gmaj7 |" --step cells --for trumpet --as words',
    'halfstep etude "| F7 | Bb7 |" --step arpeggio --level beginner --notes "G4 A4 Bb4 C5 D5"',
)
epilog = chart_help


def add_arguments(parser: CommandParser) -> None:
    """The arguments of the command."""
    parser.add_argument("chart", metavar="CHART")
    parser.add_argument(
        "--step",
        required=True,
        metavar="STEP",
        help="its name or number: cells, 9; halfstep lesson --steps list shows them",
    )
    parser.add_argument("--for", dest="instrument", metavar="INSTRUMENT", help="who plays it")
    parser.add_argument("--level", metavar="LEVEL", help="beginner, intermediate or advanced")
    parser.add_argument(
        "--tempo", dest="tempo_bpm", metavar="BPM", help="pulses a minute, 40 to 300"
    )
    parser.add_argument(
        "--notes",
        dest="known_notes",
        metavar="NOTES",
        help='the only notes to use: "G4 A4 Bb4"',
    )
    parser.add_argument("--low", metavar="NOTE", help="no note below this one")
    parser.add_argument("--high", metavar="NOTE", help="no note above this one")
    parser.add_argument("--seed", metavar="N", help="another number writes another line")
    parser.add_argument(
        "--keep",
        dest="kept_bars",
        metavar="BARS",
        help="bars to keep, such as 3,5-6; with --from",
    )
    parser.add_argument(
        "--from",
        dest="kept_from",
        metavar="FILE",
        help="an etude stored as .json, for --keep",
    )
    parser.add_argument(
        "--degrees", action="store_true", help="degrees under the notes on the page"
    )
    parser.add_argument(
        "--as",
        dest="shown_as",
        metavar="FORM",
        help="words: each bar read aloud, for a screen reader or on the telephone",
    )
    add_print_setting(parser)
    add_ending(parser)
    parser.add_argument(
        "--all-keys",
        dest="all_keys",
        action="store_true",
        help="a sheet of the line in all twelve keys, by fourths: --out .pdf, .svg or .png",
    )
    parser.add_argument(
        "--plain",
        action="store_true",
        help="no slurs, accents or signs of loudness: they are left to the player",
    )
    parser.add_argument(
        "--midi-band",
        action="store_true",
        help="chords, bass and drums in the .mid, each on a track",
    )
    parser.add_argument("--bank", metavar="FILE", help="a sound bank to play; see halfstep sounds")
    add_reading(parser)
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="store it: .musicxml, .mid, .pdf, .svg, .json, or as sound: .m4a, .mp3, .ogg, .flac, "
        ".wav",
    )


def run(arguments: argparse.Namespace, parser: CommandParser) -> None:
    """Write one etude."""
    from halfstep.app.terminal.out_file import out_path, write_content
    from halfstep.services.etude_reply import KEYS_SUFFIXES, file_suffixes
    from halfstep.services.write_etude import NoEtude, WriteEtude, write_one_etude

    if arguments.all_keys and arguments.out is None:
        raise BriefError(f"`all_keys` is a sheet: give `out`, a file in {', '.join(KEYS_SUFFIXES)}")
    out = None
    if arguments.out is not None:
        out = out_path(arguments.out, file_suffixes(all_keys=arguments.all_keys))
    lines = _lines_of(arguments)
    request = request_from(WriteEtude, arguments)
    try:
        reply = write_one_etude(request)
    except NoEtude as refused:
        if refused.offer is None:
            raise
        from halfstep.app.terminal.pasted_command import pasted_command

        command = pasted_command(arguments, request, refused.offer, parser)
        raise BriefError(f"{refused.marked_text}: {command}") from None
    if out is None:
        print("\n".join(lines(reply)))
        parser.print_notes(reply.notices, to_screen=True)
        return
    from halfstep.app.terminal.progress_bar import progress_bar

    with progress_bar("reading the chart") as progress:
        content = reply.file(out.suffix.lower(), progress=progress)
    parser.print_notes((*reply.notices, *write_content(content, out)))


def _lines_of(arguments: argparse.Namespace) -> Callable[[EtudeReply], list[str]]:
    """What shows an etude on the screen in the form that is asked for."""
    if arguments.shown_as is None:
        return screen_lines
    if arguments.out is not None:
        raise BriefError("`shown_as` is for the screen; leave out `out`, or take it alone")
    from halfstep.services.request_fields import choice_of

    choice_of("shown_as", arguments.shown_as, ("words",))
    return spoken_lines


def spoken_lines(reply: EtudeReply) -> list[str]:
    """The etude under its title, each bar in words."""
    return [_heading(reply), *reply.words()]


def _heading(reply: EtudeReply) -> str:
    etude = reply.etude
    title = etude.analysis.chart.title
    return f"{title} · {etude.step.heading} · {reply.part.instrument.label}"


def screen_lines(reply: EtudeReply) -> list[str]:
    """The etude under its title and facts."""
    from halfstep.app.terminal.etude_lines import etude_lines
    from halfstep.lesson.manner import manner_word
    from halfstep.part.facts import playing_facts

    etude, part, brief = reply.etude, reply.part, reply.etude.brief
    manner = manner_word(reply.style, brief.feel)
    facts = playing_facts(part, brief.level, tempo_bpm=brief.tempo_bpm, manner=manner)
    return [_heading(reply), facts, *etude_lines(etude, part)]
