"""Analysis + brief -> etude: the steps of a lesson, written by exact search.

`search` finds cheapest and sampled paths and knows no music; `rules` says what a line
must do and checks it; `costs` says what makes one line better than another; `frame` lays
out the places to be filled and `rhythm` their lengths; `runs` with `placing`, and `lines`,
turn a step into a search; `steps` is the list of steps; `write` makes an etude and checks
it before it is handed on.
"""
