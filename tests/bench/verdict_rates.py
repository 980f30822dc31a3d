"""How often the live verdict is right and wrong, on whole exams of invented people.

    python tests/bench/verdict_rates.py [EXAMS] [PROTOCOL...]

For each bundled protocol, screen-19 with only three blind-spot checks, and each kind of
participant: share warned at all, share warned before half of the eye's presentations (about
anything, and with the word that fits), and share whose result is called unusable. Exit 1 if with
any bundled protocol more than 5 % of careful people are warned, or if fewer than 80 % of the
trigger-happy (20 %) or the wandering (30 %) are warned before half.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "verdict")]

KINDS = {
    "careful": (0.01, 0.0, 0.01, "presses"),
    "as people are drawn": (0.029, 0.0, 0.029, "presses"),
    "trigger-happy 20 %": (0.2, 0.0, 0.01, "presses"),
    "wandering 30 %": (0.01, 0.3, 0.01, "gaze"),
    "inattentive 20 %": (0.01, 0.0, 0.2, "attention"),
}
"""Rates of uncaused presses, of a gaze off the mark, of misses; the word that fits."""


@dataclass(frozen=True)
class Row:
    """Shares of exams."""

    warned: float
    early: float
    fitting: float
    unusable: float
    presentations: float


def row(ends: Sequence[object], fits: str) -> Row:
    """Shares over exams as `warned_exams.Ended`."""
    n = len(ends)
    return Row(
        sum(bool(end.warned_at) for end in ends) / n,
        sum(end.before_half() for end in ends) / n,
        sum(end.before_half(fits) for end in ends) / n,
        sum(end.unusable for end in ends) / n,
        sum(end.presentations for end in ends) / n,
    )


def measured(name: str, protocol: object, exams: int) -> dict[str, Row]:
    """Rows of one protocol, printed as they come."""
    from warned_exams import interval, participant, run_many

    rows = {}
    for kind, (false, away, lapse, fits) in KINDS.items():
        ends = run_many(protocol, participant(false, away, lapse), range(exams))
        one = rows[kind] = row(ends, fits)
        low, high = interval(round(one.early * exams), exams)
        print(
            f"{name}, {kind}: warned {one.warned:.1%}, before half {one.early:.1%} "
            f"(95 %: {low:.1%} to {high:.1%}), with the fitting word {one.fitting:.1%}, "
            f"unusable {one.unusable:.1%}; {one.presentations:.1f} presentations",
            flush=True,
        )
    return rows


def kept(rows: dict[str, Row]) -> bool:
    """Whether the bounds are."""
    caught = (rows[kind].early for kind in ("trigger-happy 20 %", "wandering 30 %"))
    return rows["careful"].warned <= 0.05 and all(share >= 0.8 for share in caught)


def main(exams: int, names: list[str]) -> int:
    """Measure, print, and say whether the bounds are kept."""
    from warned_exams import SPARSE

    from protocols.library import bundled_protocols, load_protocol

    if not names:
        measured("screen-19 with three checks", SPARSE, exams)
    names = names or list(bundled_protocols())
    found = [kept(measured(name, load_protocol(name), exams)) for name in names]
    return 0 if all(found) else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000, sys.argv[2:]))
