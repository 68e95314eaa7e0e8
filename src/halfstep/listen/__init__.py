"""What was played? From a recording to notes, knowing nothing of chords.

`audio` reads the recording, `spectra` are what the `network` sees of it, `decode` finds
the path of notes that explains its estimates best; `backing_leak` finds the backing in the
take and takes it away. `transcription` puts them together; it gives a
`halfstep.listen.heard_take.HeardTake`.
"""
