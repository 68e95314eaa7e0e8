"""Chart + brief -> a folder to hand out: the main job, end to end.

`brief` is what is asked, `make` works everything out, `part` puts it into a player's
written pitch, `pages` lays out the handout's content, `data` is all of it as data, and
`write` makes the files.
"""
