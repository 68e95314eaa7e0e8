"""Text or file -> lead sheet -> chart: what was written, and in which order it is played.

`symbol` reads one chord symbol (syntax only), `key` a key; `sheet` is what stands on the
page, `form` finds the play order, `chart` holds the bars as played and the spans of their
chords. `notations` has a reader for each notation, and a writer for some; they put bars
together with `bar_builder`. `load` tells files apart.
"""
