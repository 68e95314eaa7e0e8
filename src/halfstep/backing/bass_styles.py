"""What each style has the bass play: its instrument and its figures, one constant a style.

Common practice, no source. General MIDI names the programs; the signs are those of
`bass_places.DUTIES`, figures as `figures` has them.
"""

from __future__ import annotations

from halfstep.backing.bass import BassStyle
from halfstep.backing.bass_places import BassFigures
from halfstep.backing.figures import FigureTable, groups

DOUBLE_BASS, FINGER_BASS = 32, 33

_WALKED: FigureTable = {
    groups(2, 2): ("TPTP",),
    groups(3): ("TPP", "TPT"),
    groups(2): ("TP",),
    groups(1): ("T",),
    groups(1.5): ("T-P", "T--"),
}
_LEANING: FigureTable = {
    groups(2, 2): (
        "T---T---", "T---T-P-", "T---F--P", "T--FT---", "T-----P-", "T--PT-P-",
    ),
    groups(3): ("T---P-", "T-----", "T--PP-", "T---F-"),
    groups(2): ("T---", "T--P", "T-P-"),
    groups(1): ("T-",),
    groups(1.5): ("T--", "T-P"),
}  # fmt: skip
_BOOGIE: FigureTable = {
    groups(2, 2): ("TTPP", "TPTP", "TTTP", "RTTP"),
    groups(3): ("TTP", "TPP"),
    groups(2): ("TP",),
    groups(1): ("T",),
    groups(1.5): ("T-P",),
}
_BOSSA: FigureTable = {
    groups(2, 2): (
        "R--FF--N", "R--FF--P", "R---F--N", "R--FO--N", "R--TF--N", "R--FF-PN",
    ),
    groups(3): ("R--FFN", "R---FN", "R--FTP"),
    groups(2): ("R--N", "F--N", "R--P"),
    groups(1): ("R-", "F-"),
    groups(1.5): ("R-N", "F-P", "R--"),
}  # fmt: skip
_EVEN: FigureTable = {
    groups(2, 2): (
        "R--RF-P-", "R---F--P", "R-R-O-FP", "R--FO-P-", "R-RRF-TP", "R--R--FP",
    ),
    groups(3): ("R--FTP", "R---FP", "R-F-P-"),
    groups(2): ("R--P", "F-TP", "R--F"),
    groups(1): ("R-", "T-"),
    groups(1.5): ("R-P", "F-T", "R--"),
}  # fmt: skip
_FUNK: FigureTable = {
    groups(2, 2): (
        "R-.gO.R. g.F.T-P.", "R..R.gO. R-..F.gP", "R-O...R. .gF.R.P.",
        "R.gR..O. -.gR.F.P", "R-..R.gF ..R.O.PP", "R.R...gO ..F.R-.P",
    ),
    groups(3): ("R-.gO.R. F.P.", "R..R.gO. R.FP", "R-O...gF ..P."),
    groups(2): ("R-.gO.P.", "R..F.gO.", "R-O..gRP"),
    groups(1): ("R..g", "O.F.", "R.P."),
    groups(1.5): ("R-.gF.", "O.R..P"),
}  # fmt: skip
_SWUNG_FUNK: FigureTable = {
    groups(2, 2): (
        "R--gO-.. R.gF..P.", "R-.F..gO ..R.T--P", "R--R..O. .gF-R..P",
        "R-..F.gR O-..gR.P", "R--O.gF. R-..T.P.", "R..gR-O. ..F.gR.P",
    ),
    groups(3): ("R--gO.F. R.P.", "R-.F..gO ..P.", "R--R.gF. T..P"),
    groups(2): ("R--gO.P.", "R-.F.gO.", "R--O..RP"),
    groups(1): ("R--g", "O.F.", "R..P"),
    groups(1.5): ("R--gF.", "O.R..P"),
}  # fmt: skip
_WALTZ: FigureTable = {
    groups(2, 2): ("TPTP",),
    groups(3): ("T-P-P-", "T---P-", "T--PP-", "T-P-T-", "T-----", "T-TPP-"),
    groups(2): ("TP",),
    groups(1): ("T",),
    groups(1.5): ("T-P", "T--"),
}
_SIX_EIGHT: FigureTable = {
    groups(1.5, 1.5): ("R-FT-P", "R--F-P", "R-RF-P", "R--T-P", "R-FO-P", "R----P"),
    groups(1.5): ("R-F", "T-P", "R--", "F-P"),
    groups(2, 2): ("R--FF-P-", "R---T--P", "R--FO--P", "R--RT-P-"),
    groups(3): ("R--F-P", "R-F-P-", "R---TP"),
    groups(2): ("R--P", "R-F-", "T--P"),
    groups(1): ("R-", "T-"),
}
_FIVE: FigureTable = {
    groups(3, 2): (
        "R--F--R-P-", "R--R-FT-P-", "R-----F--P", "R--T--F-TP", "R--FO-R-P-",
    ),
    groups(2, 3): ("R-P-R--F-P", "R---F--T-P", "R--FT---P-"),
    groups(2, 2): ("R--FT-P-", "R---F--P", "T-P-T-P-"),
    groups(3): ("R--F-P", "R--T-P", "T-P-P-"),
    groups(2): ("R-P-", "R--P", "F-P-"),
    groups(1): ("R-", "T-"),
    groups(1.5): ("R-P", "R--", "F-P"),
}  # fmt: skip
_SEVEN: FigureTable = {
    groups(3, 2, 2): (
        "R--F--T-P-R-P-", "R--R-FO---F-P-", "R-----F--PR-P-", "R--T--F-T-R--P",
    ),
    groups(1.5, 1, 1): ("R-FR-TP", "R--F-RP", "R-TF-TP", "R-RO-FP"),
    groups(2, 2): ("R--FT-P-", "R---F--P", "T-P-T-P-"),
    groups(3): ("R--F-P", "R--T-P", "T-P-P-"),
    groups(2): ("R-P-", "F--P", "R--F"),
    groups(1): ("R-", "T-", "F-"),
    groups(1.5): ("R-P", "R--", "F-P"),
}  # fmt: skip
_TWO_BEAT: FigureTable = {
    groups(2, 2): ("R-F-", "R-T-", "R-FP", "R-F-", "RPPP", "R-TP"),
    groups(3): ("R-F", "R-P", "RPP"),
    groups(2): ("R-", "F-", "RP"),
    groups(1): ("R", "F"),
    groups(1.5): ("R--", "F-P"),
}

SWING_BASS = BassStyle(DOUBLE_BASS, BassFigures(_WALKED, between=8), repeating=False)
BALLAD_BASS = BassStyle(DOUBLE_BASS, BassFigures(_LEANING), velocity=74, repeating=False)
SHUFFLE_BASS = BassStyle(DOUBLE_BASS, BassFigures(_BOOGIE, between=8), repeating=False)
BOSSA_NOVA_BASS = BassStyle(DOUBLE_BASS, BassFigures(_BOSSA), velocity=78)
STRAIGHT_BASS = BassStyle(FINGER_BASS, BassFigures(_EVEN))
FUNK_BASS = BassStyle(FINGER_BASS, BassFigures(_FUNK), velocity=88)
SWUNG_FUNK_BASS = BassStyle(FINGER_BASS, BassFigures(_SWUNG_FUNK), velocity=86)
JAZZ_WALTZ_BASS = BassStyle(DOUBLE_BASS, BassFigures(_WALTZ, between=8), repeating=False)
SIX_EIGHT_BASS = BassStyle(FINGER_BASS, BassFigures(_SIX_EIGHT), velocity=80)
FIVE_BASS = BassStyle(DOUBLE_BASS, BassFigures(_FIVE), velocity=80)
SEVEN_BASS = BassStyle(FINGER_BASS, BassFigures(_SEVEN), velocity=82)
TWO_BEAT_BASS = BassStyle(DOUBLE_BASS, BassFigures(_TWO_BEAT), velocity=84)
