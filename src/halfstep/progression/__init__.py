"""Text or file -> chart: what was written, before anyone says what it means.

`symbol` reads one chord symbol (syntax only), `key` a key, `sheet` is what is written and
`chart` what is played: bars with
chords in them and the spans they cover, `text` and `musicxml` read charts, `load`
tells them apart.
"""
