"""Score, page or played parts -> something to read, hear or open: one module per output.

A `Score` becomes pictures (`score_pictures`: through `mei` to the `engraver`, with
`note_signs`, `road_signs` and `chord_lettering` set around the notes), a `staff_page` or a
`handout` of them, or MusicXML (`musicxml_writer`). The `chart_map` stands on a `vector_page`,
with text as `glyphs`; pages go into a `page_file`. Played parts become a `midi_file` or, in
`mixdown`, stems and a mix for a `wav_file`: notes from the `sampler`, recordings from the
`soundbank`, balance by `loudness`.
"""
