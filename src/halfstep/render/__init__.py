"""Score and parts -> something to read, hear or open: one module per output.

`sound` renders parts to stems and a mix: it asks `sampler` for notes, `soundbank` for
recordings, `loudness` for the balance and `wav` for the file. `midi` writes the notes
themselves.
"""
