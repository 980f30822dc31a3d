"""Numbers and findings of a pilot in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analysis.piloting.result import Measure, PilotResult

MINUS = "\u2212"
NONE = "\u2013"


def number(value: float, digits: int = 1) -> str:
    """A number of any unit with a true minus sign, never minus zero.

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


LONGEST_NAME = 14
MOST_NAMES = 8


def tags(labels: Sequence[str]) -> dict[str, str]:
    """What variants are called in pictures and sentences: their labels, or V1, V2 where too long.

    >>> tags(["screen-19"]), tags(["screen-19", "bayes-19 end_sd_db=2.0"])["screen-19"]
    ({'screen-19': 'screen-19'}, 'V1')
    """
    if len(labels) <= MOST_NAMES and max(map(len, labels)) <= LONGEST_NAME:
        return {label: label for label in labels}
    return {label: f"V{number}" for number, label in enumerate(labels, start=1)}


def tagged(labels: Sequence[str]) -> dict[str, str]:
    """The same with the label behind it where it is another."""
    found = tags(labels)
    return {label: label if tag == label else f"{tag}: {label}" for label, tag in found.items()}


def order_text(groups: Sequence[Sequence[str]], names: Mapping[str, str]) -> str:
    """An order, best first; within a group neighbours are not clearly apart.

    >>> order_text([["a"], ["b", "c"]], {"a": "V1", "b": "V2", "c": "V3"})
    'V1 < V2 ≈ V3'
    """
    return " < ".join(" ≈ ".join(names[label] for label in group) for group in groups)


def dominated_sentences(result: PilotResult) -> tuple[str, ...]:
    """Who is dominated and by whom, who is not, and what that means."""
    names = tags(list(result.objectives))
    lost = {one.variant for one in result.dominated}
    rest = [tag for label, tag in names.items() if label not in lost]
    said = [
        f"{names[one.variant]} is dominated by {listed([names[label] for label in one.by])}."
        for one in result.dominated
    ]
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
    orders, names = result.orders, tags(list(result.objectives))
    return (
        f"Mean time, shortest first: {order_text(orders.seconds, names)}.",
        f"Error, smallest first: {order_text(orders.rms_db, names)}.",
        f"Detection, most first: {order_text(orders.sensitivity, names)}.",
        "Neighbours joined by ≈ are not clearly apart.",
    )


def naming_sentence(result: PilotResult) -> str:
    """Where the short names are explained; nothing where there are none."""
    names = tags(list(result.objectives))
    same = all(label == tag for label, tag in names.items())
    return "" if same else "The first table says which variants V1, V2 and so on are."
