"""Analysis + brief -> etude: the steps of a lesson, written by exact search.

In the order of the work:

- what comes in: `etude_brief` with notes (`etude_notes`) that stand already, and earlier
  etudes (`prior_notes`);
- what a note may be: `palette` of each chord, `slots` where notes stand, `rhythm_grammar`
  for their lengths, `chord_runs` for runs of a given shape;
- what is asked of it: `rules` forbid and check, `costs` rank;
- `step` says what a step is, `steps` has one module each, in order;
- the search: `note_search` note by note over `cost_tables`, `run_search` run by run;
  `kept_bars` (of runs `kept_runs`) stand, and `line_choice` draws until a line tells its chords;
- how its notes are touched follows from the finished line: `touches`, by the rules of
  `articulation`;
- what goes out: `etude_writer` makes a `written_etude` and checks it (`rule_check`) before
  it is handed on, with `explanation` for its player; where there is none it is `blocked`,
  and `offers` says what would work.
"""
