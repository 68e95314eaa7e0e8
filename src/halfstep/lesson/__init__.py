"""Chart + brief -> a folder to hand out: the main job, end to end.

`brief` is what is asked, `manner` how fast and in which feel, `sections` finds who can play the
same line, `make` works everything out, `write` makes the files. What stands on a page is worked
out here before it is drawn: `pages` for the handout, `map_page` for the map of a chart,
`lead_page` for a lead sheet, `keys_page` for a line in all keys, `take_page` for a take.
"""
