"""Numbers and findings of a pilot in words."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.piloting.result import Measure, PilotResult

MINUS = "\u2212"
NONE = "\u2013"


def number(value: float, digits: int = 1) -> str:
    """A number with a true minus sign, never minus zero.

    >>> number(-0.04), number(-1.26, 2)
    ('0.0', '−1.26')
    """
    rounded = round(value, digits) + 0.0
    return f"{rounded:.{digits}f}".replace("-", MINUS)


def told(found: Measure | None, digits: int = 1) -> str:
    """A measure with its interval.

    >>> told(Measure(1.94, 1.9, 1.984), 2)
    '1.94 (1.90 to 1.98)'
    """
    if found is None:
        return NONE
    low, high = number(found.low, digits), number(found.high, digits)
    return f"{number(found.value, digits)} ({low} to {high})"


def percent(found: Measure | None, digits: int = 1) -> str:
    """A share with its interval, in per cent.

    >>> percent(Measure(0.952, 0.929, 0.967))
    '95.2 (92.9 to 96.7)'
    """
    if found is None:
        return NONE
    return told(Measure(100 * found.value, 100 * found.low, 100 * found.high), digits)


def listed(words: Sequence[str], last: str = "and") -> str:
    """Words in a row.

    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    *most, end = words
    return f"{', '.join(most)} {last} {end}" if most else end


def order_text(groups: Sequence[Sequence[str]]) -> str:
    """An order, best first; within a group neighbours are not clearly apart.

    >>> order_text([["a"], ["b", "c"]])
    'a < b ≈ c'
    """
    return " < ".join(" ≈ ".join(group) for group in groups)


def dominated_sentences(result: PilotResult) -> tuple[str, ...]:
    """Who is dominated and by whom, who is not, and what that means."""
    names = {one.variant for one in result.dominated}
    rest = [variant.label for variant in result.variants if variant.label not in names]
    said = [f"{one.variant} is dominated by {listed(one.by)}." for one in result.dominated]
    if not said:
        said = ["No variant is clearly dominated by another."]
    margins = result.margins
    return (
        " ".join(said),
        f"Not dominated: {listed(rest)}. None of them is recommended: what counts more is the "
        "lab's to say." if rest else "",
        "Dominated means: another variant is better in time, error or detection by more than the "
        f"plan's margin ({margins['seconds']:g} s, {margins['rms_db']:g} dB, "
        f"{100 * margins['sensitivity']:g} % of people with loss) and in nothing worse by more, "
        "beyond chance: intervals of the differences hold for all pairs together (95 %).",
    )  # fmt: skip


def order_sentences(result: PilotResult) -> tuple[str, ...]:
    """The order by each objective."""
    orders = result.orders
    return (
        f"Mean time, shortest first: {order_text(orders.seconds)}.",
        f"Error, smallest first: {order_text(orders.rms_db)}.",
        f"Detection, most first: {order_text(orders.sensitivity)}.",
        "Neighbours joined by ≈ are not clearly apart.",
    )
