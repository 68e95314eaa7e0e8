"""What was played? From a recording to notes, knowing nothing of chords.

`audio` reads the recording, `first_reading` finds its loudness and where the backing lies in
it, `spectra` are what the `network` sees of it, and `decode` finds the path of notes that
explains its estimates best; `backing_leak` takes the backing away. `transcription` puts them
together; it gives a `halfstep.listen.heard_take.HeardTake`.
"""
