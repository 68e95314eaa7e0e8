"""What a teacher has beside the steps of a lesson: pentatonics, patterns, a walking bass.

Each is a `halfstep.etude.step.Step` like those of a lesson, in a module that ends in it. Those
that are made of a figure which is carried on share `pattern`; those that play another scale
than the chart's say which (`halfstep.etude.step_scales`).
"""
