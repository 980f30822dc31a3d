"""How little a few catch trials say: Wilson's interval for wrong answers of those shown."""

from __future__ import annotations

from look import ALARM, FAINT, LIMIT, axes_of, drawn, labelled, note, percent, show

from analysis.reliability import rate

TITLE = "What the true rate may be (95 %), after so many wrong of so many shown."
COLUMNS = ("wrong of shown", "rate", "95 % interval")
CASES = ((0, 3), (1, 3), (0, 5), (1, 5), (0, 10), (2, 10), (0, 20), (4, 20), (0, 60), (12, 60))


def rows():
    """One row a case."""
    for wrong, shown in CASES:
        found = rate(wrong, shown)
        low, high = found.interval
        yield f"{wrong} of {shown}", percent(found.rate), f"{100 * low:.0f} to {100 * high:.0f} %"


def svg() -> str:
    """An interval a case."""
    return drawn("lesson-catch", TITLE, "Intervals narrow slowly as more are shown.", _draw)


def _draw(figure):
    (axes,) = axes_of(figure, 1)
    for y, (wrong, shown) in enumerate(reversed(CASES)):
        found = rate(wrong, shown)
        low, high = (100 * end for end in found.interval)
        colour = LIMIT if wrong == 0 else ALARM
        axes.plot([low, high], [y, y], color=colour, lw=5, alpha=0.45)
        axes.plot(100 * found.rate, y, "o", color=colour, ms=6)
    axes.axvline(20, color=FAINT, lw=1)
    note(axes, 70, 2.4, "none wrong", LIMIT)
    note(axes, 70, 1.4, "some wrong", ALARM)
    axes.set_yticks(range(len(CASES)), [f"{w} of {s}" for w, s in reversed(CASES)])
    labelled(axes, "rate of wrong answers, %", "")


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
