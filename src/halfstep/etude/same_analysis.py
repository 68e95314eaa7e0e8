"""Is it the chart that something was worked out for before? By what it is, not by what is in it.

An etude asks again and again for what follows from its chart alone. To compare two analyses of
many bars takes longer than some of that does.
"""

from __future__ import annotations

from halfstep.harmony.analysis import Analysis


class SameAnalysis:
    """An analysis that is the same as itself alone.

    Attributes
    ----------
    analysis : Analysis
    """

    __slots__ = ("analysis",)

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis

    def __eq__(self, other: object) -> bool:
        return isinstance(other, SameAnalysis) and other.analysis is self.analysis

    def __hash__(self) -> int:
        return id(self.analysis)
