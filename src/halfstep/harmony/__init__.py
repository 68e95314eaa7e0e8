"""Chart -> analysis: which notes, and what changes?

`tones` spells a chord, `scales` a scale from its formula, `locality` finds the local
key of every chord, `choice` picks the scale with a reason, `changes` says what stays
and what moves at each change, and `analysis` puts them together.
"""
