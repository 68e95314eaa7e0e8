"""What each style has the chords play: instrument, figures and how they are laid.

Common practice, no source. General MIDI names the programs; ``x`` is a stroke and ``X`` one
that is leant on, figures as `figures` has them.
"""

from __future__ import annotations

from halfstep.backing.comping import CompingStyle
from halfstep.backing.figures import FigureTable, groups
from halfstep.backing.voicings import Hands

GRAND, ELECTRIC_PIANO, NYLON_GUITAR, JAZZ_GUITAR = 0, 4, 24, 26

_SWUNG: FigureTable = {
    groups(2, 2): (
        "x-.x....", "...X..x.", ".x...x..", "x--...X-", "..x....X", ".X..x---",
        "x....x..", "...x...X", "..X--.x.", "x-----..", ".x-...x.", "....x..X",
    ),
    groups(3): ("x--...", ".x..X.", "..x..x", "x-.x..", "...X--", ".X....", "..x---"),
    groups(2): ("x---", ".x--", "..x-", "...x", ".x.x", "x..X", "...."),
    groups(1): ("x-", ".x", "..", "x."),
    groups(1.5): ("x--", ".x-", "..x", "x.x", "..."),
}  # fmt: skip
_HELD: FigureTable = {
    groups(2, 2): (
        "x-------", ".x------", "x---x---", "..x-----", "x--.x---", ".x--..x-", "...x----",
        "..x-.x--",
    ),
    groups(3): ("x-----", ".x----", "..x---", "x---x-", ".x--x-", "...x--"),
    groups(2): ("x---", ".x--", "..x-", "x-x-", "...."),
    groups(1): ("x-", ".x", ".."),
    groups(1.5): ("x--", ".x-", "..x", "..."),
}  # fmt: skip
_SHUFFLED: FigureTable = {
    groups(2, 2): (
        ".x.x.x.x", "x-.x.x..", "...X.x.x", "X..x..x.", ".x..x..X", "x.x..x.x", "..x.x.X.",
        ".X..x.x.", "x--x----",
    ),
    groups(3): (".x.x.x", "x-.x..", "..X..x", "x..x.x", ".x..X.", "..x.x."),
    groups(2): (".x.x", "x-.x", "..x.", "x.x.", "...x"),
    groups(1): (".x", "x-", "..", "x."),
    groups(1.5): ("x-x", "..x", ".x.", "x..", "..."),
}  # fmt: skip
_BOSSA: FigureTable = {
    groups(2, 2): (
        "x-.x-.x-", ".x-.x-.x", "x..x..x.", "..x-.x.x", "x-x..x--", ".x..x-.x", "x--.x.x-",
        "..x..x-x", ".x-x..x.",
    ),
    groups(3): ("x-.x-.", ".x-.x.", "..x-.x", "x.x..x", ".x.x-.", "x..x.x"),
    groups(2): ("x-.x", ".x-.", "..x.", "x.x-", ".x.x"),
    groups(1): ("x-", ".x", "..", "x."),
    groups(1.5): ("x-x", ".x-", "x--", "..x", "..."),
}  # fmt: skip
_EVEN: FigureTable = {
    groups(2, 2): (
        "x---x---", ".x--.x--", "x--x--x-", "..x---x-", "x----x--", ".x-x--x-", "...x--x-",
        "..x--x--", "x-----x-",
    ),
    groups(3): ("x-----", ".x-x--", "x--x--", "..x---", "x---x-", "..x-x-", ".x---x"),
    groups(2): ("x---", ".x--", "x-x-", "..x-", "x--x", ".x.x"),
    groups(1): ("x-", ".x", "..", "x-"),
    groups(1.5): ("x--", ".x-", "..x", "x-x", "..."),
}  # fmt: skip
_STABBED: FigureTable = {
    groups(2, 2): (
        "....X.....x.....", "..x...X.......x.", "X......x....X...", "...x..X...x....x",
        "x.x.........X..x", "......X..x..x...", "...X....x...x.x.", ".x....X.....x...",
        "X.....x...x.....", "..x..x......X.x.",
    ),
    groups(3): ("....X.....x.", "..x...X.....", "X......x..x.", "...x..X...x.", ".x....x..X.."),
    groups(2): ("....X..x", "..x...X.", "X..x....", ".x..x...", "......x."),
    groups(1): ("..x.", "x...", "...x", "...."),
    groups(1.5): ("x..x..", "..x...", "....x.", "......"),
}  # fmt: skip
_SWUNG_STABS: FigureTable = {
    groups(2, 2): (
        "x--.......X.....", "...x....x--...x.", "....X-......x..x", "x..x........X-..",
        "..x-..X.........", "......x.X-....x.", ".x......x..x....", "X-........x..x..",
        "...X-...x.....x.",
    ),
    groups(3): ("x--...X.....", "...x....x-..", "....X-....x.", ".x..x...x...", "......X-..x."),
    groups(2): ("x--...x.", "..x-....", "....X..x", ".x..x...", "...x...."),
    groups(1): ("x-..", "..x.", "...x", "...."),
    groups(1.5): ("x--...", "..x...", "...x-.", "......"),
}  # fmt: skip
_WALTZ: FigureTable = {
    **_SWUNG,
    groups(3): (
        "x--...", ".x..x.", "..x-x.", "x-.x-.", "...X--", ".X-...", "..x..x", "x---x-", ".x.x..",
    ),
}  # fmt: skip
_SIX_EIGHT: FigureTable = {
    groups(1.5, 1.5): ("x-----", "x--x--", ".x--x-", "..x--x", "x-x-x-", ".x-x--", "..xx--"),
    groups(1.5): ("x--", ".x-", "x-x", "..x", "..."),
    groups(2, 2): _EVEN[groups(2, 2)],
    groups(3): _EVEN[groups(3)],
    groups(2): _EVEN[groups(2)],
    groups(1): _EVEN[groups(1)],
}
_FIVE: FigureTable = {
    groups(3, 2): (
        "x--x------", ".x-.x-.x--", "x-----x-.x", "..x--x..x-", "x---x-.x--", ".x--x...x-",
        "...x--x--x", "..x-.x.x..", "x--..x..x-",
    ),
    groups(3): ("x--x--", ".x-.x-", "..x--x", "x---x-", ".x.x-."),
    groups(2): ("x---", ".x--", "..x-", "x-x-", "...x"),
    groups(2, 2): _EVEN[groups(2, 2)],
    groups(1): _EVEN[groups(1)],
    groups(1.5): _EVEN[groups(1.5)],
}  # fmt: skip
_SEVEN: FigureTable = {
    groups(3, 2, 2): (
        "x--x--x---x---", ".x-.x-.x--.x--", "..x--x..x-..x-", "x---x---x--x--",
        "...x--x--x-.x-", ".x--.x--..x---", "x----x--x...x-", "..x-x--.x--.x-",
    ),
    groups(1.5, 1, 1): ("x--x-x-", ".x-.x-x", "..xx---", "x-x.x-.", ".x--.x-", "x---x-."),
    groups(3): ("x--x--", ".x-.x-", "..x--x", "x---x-"),
    groups(2): ("x---", ".x--", "..x-", "x-x-"),
    groups(2, 2): _EVEN[groups(2, 2)],
    groups(1): _EVEN[groups(1)],
    groups(1.5): _EVEN[groups(1.5)],
}  # fmt: skip
_STRUMMED: FigureTable = {
    groups(2, 2): (
        "..x-..x-", "..x-..xx", ".x..X.x.", "x-..x-..", "..X..x..", "x.x-....", "...x..X-",
        ".x.x-.x.", "..xx..x-",
    ),
    groups(3): ("..x-x-", "..x-..", ".x..x.", "x-..x-", "..x.xx", "x--.x."),
    groups(2): ("..x-", "..xx", ".x.x", "x-..", "x.x."),
    groups(1): (".x", "x-", "..", "x."),
    groups(1.5): (".xx", "x--", "..x", ".x."),
}  # fmt: skip

_COLOURFUL = Hands(colour=1.6)
_WIDE = Hands(fewest=4, most=5, colour=1.4, middle=59.0, widest=8)
_PLUCKED = Hands(fewest=4, most=4, colour=1.2, middle=58.0, narrowest=2, widest=9)
_OPEN = Hands(colour=-0.4, middle=61.0)
_HIGH = Hands(colour=1.8, middle=63.0, widest=7)
_SHELLS = Hands(fewest=3, most=3, colour=0.2, middle=58.0)

SWING_COMPING = CompingStyle(GRAND, _SWUNG, hands=_COLOURFUL)
BALLAD_COMPING = CompingStyle(GRAND, _HELD, velocity=56, hands=_WIDE)
SHUFFLE_COMPING = CompingStyle(GRAND, _SHUFFLED, velocity=68, hands=_COLOURFUL)
BOSSA_NOVA_COMPING = CompingStyle(NYLON_GUITAR, _BOSSA, velocity=64, hands=_PLUCKED)
STRAIGHT_COMPING = CompingStyle(ELECTRIC_PIANO, _EVEN, velocity=68, hands=_OPEN)
FUNK_COMPING = CompingStyle(ELECTRIC_PIANO, _STABBED, velocity=72, hands=_HIGH)
SWUNG_FUNK_COMPING = CompingStyle(ELECTRIC_PIANO, _SWUNG_STABS, velocity=70, hands=_HIGH)
JAZZ_WALTZ_COMPING = CompingStyle(GRAND, _WALTZ, velocity=64, hands=_COLOURFUL)
SIX_EIGHT_COMPING = CompingStyle(GRAND, _SIX_EIGHT, velocity=64, hands=_OPEN)
FIVE_COMPING = CompingStyle(GRAND, _FIVE, velocity=66, hands=_COLOURFUL)
SEVEN_COMPING = CompingStyle(ELECTRIC_PIANO, _SEVEN, velocity=66, hands=_COLOURFUL)
TWO_BEAT_COMPING = CompingStyle(JAZZ_GUITAR, _STRUMMED, velocity=68, hands=_SHELLS)
