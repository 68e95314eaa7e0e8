"""JSON forms, versioned, written and read.

One module a form: `chart_json`, `changes_json`, `etude_json`, `lesson_json`, `outline_json`,
`take_json`; `harmony_json` is what several of them say of chords and scales.
"""
