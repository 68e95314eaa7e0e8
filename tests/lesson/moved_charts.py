"""Charts that leave their key, invented, with the keys that each can be moved to."""

from __future__ import annotations

MAJOR_KEYS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
MINOR_KEYS = ("Cm", "C#m", "Dm", "Ebm", "Em", "Fm", "F#m", "Gm", "G#m", "Am", "Bbm", "Bm")

CHARTS = {
    "side-slip": "key: F\n| Fmaj7 | F#m7b5 B7b9 | Emaj7 | Gm7 C7 | Fmaj7 |",
    "tritone": "key: C\n| Dm7 Db7 | Cmaj7 | Fm7 Bb7 | Em7 Eb7 | Dm7 Db7 | Cmaj7 |",
    "minor two five": "key: Am\n| Am6 | Bm7b5 E7b9 | Am6 | Dm7 G7 | Cmaj7 | Bm7b5 E7 | Am6 |",
    "back door": "key: G\n| Gmaj7 | Cm7 F7 | Gmaj7 | Bm7 E7 | Am7 D7 | Gmaj7 |",
    "major thirds": "key: C\n| Cmaj7 Eb7 | Abmaj7 B7 | Emaj7 G7 | Cmaj7 |",
    "blues": "key: F\n| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7 |"
    " Gm7 | C7 | F7 D7 | Gm7 C7 |",
    "minor blues": "key: Cm\n| Cm7 | Fm7 | Cm7 | C7alt | Fm7 | % | Cm7 | % |"
    " Ab7 | G7alt | Cm7 | Dm7b5 G7b9 |",
    "iii and vi": "key: D\n| Dmaj7 | G#m7b5 C#7b9 | F#m7 B7 | Em7 A7 | Dmaj7 |",
    "chromatic twos": "key: Bb\n| Bbmaj7 | Dm7 G7 | Dbm7 Gb7 | Cm7 F7 | Bbmaj7 |",
    "flat six": "key: Eb\n| Ebmaj7 | Bmaj7 | Emaj7 | Bb7 | Ebmaj7 |",
    "to the third": "key: C\n| Cmaj7 | F#m7 B7 | Emaj7 | Dm7 G7 | Cmaj7 |",
    "to flat five": "key: C\n| Cmaj7 | G#m7 C#7 | F#maj7 | Dm7 G7 | Cmaj7 |",
    "tritone in minor": "key: Dm\n| Dm7 | Db7 | Cmaj7 | A7alt | Dm7 | Bb7 A7 | Eb7 | Dm7 |",
    "diminished": "key: G\n| Gmaj7 G#dim7 | Am7 A#dim7 | Bm7 Bbdim7 | Am7 D7 | Gmaj7 |",
    "four minor": "key: Ab\n| Abmaj7 | Ab7 | Dbmaj7 | Dbm7 Gb7 | Abmaj7 | Bbm7 Eb7 | Abmaj7 |",
    "sharp four": "key: F\n| Fmaj7 | Bm7b5 E7b9 | Am7 D7 | Gm7 C7 | Fmaj7 |",
    "up in minor thirds": "key: C\n| Dm7 G7 | Cmaj7 | Fm7 Bb7 | Ebmaj7 | Abm7 Db7 | Gbmaj7 |"
    " Bm7 E7 | Amaj7 |",
    "flat keys": "key: Db\n| Dbmaj7 | Cm7b5 F7b9 | Bbm7 Eb7 | Abm7 Db7 | Gbmaj7 |"
    " Gbm7 Cb7 | Dbmaj7 |",
    "sharp keys": "key: E\n| Emaj7 | D#m7b5 G#7b9 | C#m7 F#7 | Bmaj7 | F#m7 B7 | Emaj7 |",
    "minor to relative": "key: Em\n| Em7 | F#m7b5 B7b9 | Em7 | Am7 D7 | Gmaj7 | C#m7b5 F#7b9 |"
    " Bm7 | F#m7b5 B7b9 |",
    "by half step": "| Ebmaj7 | Am7b5 D7b9 | Gm7 | Abm7 Db7 | Gbmaj7 | Fm7 Bb7 | Ebmaj7 |",
    "rhythm bridge": "key: Bb\n| Bbmaj7 G7 | Cm7 F7 | D7 | G7 | C7 | F7 | Bb6 B7 | Bbmaj7 |",
}
"""By what happens in them."""
