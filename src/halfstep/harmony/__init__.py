"""Chart -> analysis: which notes, and what changes?

`tones` spells a chord, `scales` a scale from its formula; `key_costs` judges a chord
against a key, `home_key` and `local_keys` find the keys that cost least; `function` names
what a chord does in its key, `scale_choice` picks the scale with a reason, `changes` says
what stays and what moves at each change, and `analysis` puts them together.

`key_signatures` and `reduction` make an analysis easier to play.

What a line does over the chords: `line_over_chords` lays it over them, `chart_sounds` says what
may sound over each and what differs between two, `leading_notes` which notes lead to another,
`chord_arrivals` when each new chord is heard, and `outline`, by `note_likelihoods`, how clearly
the chords are told apart.
"""
