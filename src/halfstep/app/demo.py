"""The demo lesson: an evening class of our own invention.

Four players meet on Wednesdays in Room Twelve: Ansel and Brid on alto saxophone, Corin
on tenor saxophone, Dilys on flute. The chords are made up for them; no tune goes to them.
"""

CHART = """\
title: Room Twelve
key: F
tempo: 112
feel: swing
| Dm7 | G7 | Cmaj7 | A7 |
| Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |
"""

PLAYERS = ("alto-sax::Ansel, Brid", "tenor-sax::Corin", "flute::Dilys")
