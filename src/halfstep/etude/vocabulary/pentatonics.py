"""The five notes of a pentatonic over each chord, in a figure of four that is carried on.

Of the twelve pentatonics the one is played that lies within the chord's scale, has no fourth
over a major third, and has the most tones of the arpeggio; among equals that on the root, and
then that with the most guide tones. Over a chord of which that leaves none, such as a
diminished seventh, the figure runs through the chord's own scale, and that is told.

A minor chord with a sixth or a major seventh has 1 ♭3 4 5 6 besides.

Source: common practice, no source; so are the minor pentatonic on the third of a half-diminished
chord and the major one on the flat fifth of an altered dominant, which follow from the rule.
"""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL
from halfstep.etude.sentences import changes, highest
from halfstep.etude.step import InRuns, Step
from halfstep.etude.step_scales import degree_over, scale_of_names
from halfstep.etude.vocabulary.pattern import Pattern, made_of_figures, pattern_layout
from halfstep.etude.vocabulary.pattern_words import figure_named, scales_named, where_none_fits
from halfstep.harmony.analysis import AnalysedChord, Analysis
from halfstep.harmony.scales import MODES, Mode, Scale
from halfstep.pitch import Name, parse_degrees

FIGURES = ((0, 1, 2, 3), (0, 1, 3, 2), (0, 2, 1, 3), (0, 2, 1, 2), (1, 0, 2, 3), (0, 1, 2, 0))
MAJOR, MINOR = MODES["major pentatonic"], MODES["minor pentatonic"]
SIXTH = Mode("minor sixth pentatonic", parse_degrees("1 b3 4 5 6"))
"""What a minor chord with a sixth or a major seventh has on its root."""


def pentatonic_over(_analysis: Analysis, chord: AnalysedChord) -> Scale | None:
    """The pentatonic that a chord is played with; None where none lies within its scale."""
    root = chord.span.symbol.root
    core = {tone.name.pitch_class for tone in chord.core}
    guides = {tone.name.pitch_class for tone in chord.guides}

    def worth(scale: Scale) -> tuple[int, bool, int]:
        classes = scale.pitch_classes
        on_root = scale.root.pitch_class == root.pitch_class
        return len(core & classes), on_root, len(guides & classes)

    return max(_within(chord), key=worth, default=None)


def _within(chord: AnalysedChord) -> Iterator[Scale]:
    """The pentatonics of the notes of a chord's scale, each named after its likelier tonic."""
    spelled = {name.pitch_class: name for name in chord.scale.names}
    root, avoided = chord.span.symbol.root, fourth_avoided(chord)
    minor_chord = any(degree_over(root, tone.name) == (3, -1) for tone in chord.core)
    mode = MINOR if minor_chord else MAJOR
    kinds = [(tonic, mode) for tonic in spelled.values()]
    for tonic, kind in (*kinds, (root, SIXTH)) if minor_chord else kinds:
        classes = {(tonic + degree.interval).pitch_class for degree in kind.degrees}
        if classes <= set(spelled) and avoided not in classes:
            names = tuple(spelled[pitch_class] for pitch_class in sorted(classes))
            yield scale_of_names(kind, tonic, names, root)


def fourth_avoided(chord: AnalysedChord) -> int | None:
    """The pitch class of the fourth over a major third; None where it is no avoid note."""
    root: Name = chord.span.symbol.root
    above = {(tone.name.pitch_class - root.pitch_class) % 12 for tone in chord.tones}
    return (root.pitch_class + 5) % 12 if 4 in above and 5 not in above else None


PATTERN = Pattern(FIGURES)

STEP = Step(
    name="pentatonics",
    title="Pentatonics",
    task="Five notes over each chord, in one figure that you carry up and down. "
    "Sing the five before you play them.",
    writing=InRuns(
        layout=pattern_layout(PATTERN),
        notices=where_none_fits("where no pentatonic fits, the figure runs through the scale"),
        untold=0.5,
        again=2.0,
        off_root=0.0,
    ),
    rules=(
        IN_SCALE,
        NOT_THREE_EQUAL,
        made_of_figures(PATTERN, "every bar is made of the figure of the line, rung by rung"),
    ),
    sentences=(scales_named, figure_named, highest, changes),
    is_study=True,
    scale_over=pentatonic_over,
)
