"""Does anything touch on a staff, whatever stands there and however large it is printed?

Run ``python bench/collisions.py [PARTS]``. Parts at random with everything at once (chord symbols
of all kinds, names of sections, endings, signs, marks, degrees, what is said of a take) are drawn
at every size that something prints in, large print among them, and the boxes of all shapes held
against each other. Each fault is printed; with any the run fails. Before signs moved out together
and a bar too wide lowered its staff, 120 parts had over a hundred faults.
"""

from __future__ import annotations

import sys
from pathlib import Path

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS), str(TESTS / "render")]

from crowded_scores import SIZES, faults  # noqa: E402


def main(parts: int) -> int:
    """Print the faults, and how many there are at each size."""
    count = 0
    for size in SIZES:
        found = [fault for seed in range(parts) for fault in faults(seed, size)]
        print(*found, sep="\n", end="\n" if found else "")
        print(f"{size.name:22}{len(found):4} faults in {parts} parts")
        count += len(found)
    return count


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]) if len(sys.argv) > 1 else 300) else 0)
