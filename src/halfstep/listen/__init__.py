"""What was played? From a recording to notes, knowing nothing of chords.

`halfstep.listen.hear` is the way in; what it gives is `halfstep.listen.notes.Heard`.
"""
