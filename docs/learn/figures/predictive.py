"""What an alarm is worth where loss is rare: predictive value against prevalence."""

from __future__ import annotations

import numpy as np
from look import ALARM, FAINT, INK, LIMIT, axes_of, drawn, labelled, note, percent, show

from analysis.indices.roc import predictive_value

TITLE = "Share of alarms that are true, at sensitivity 90 % and three specificities."
COLUMNS = ("prevalence", "specificity 90 %", "specificity 95 %", "specificity 99 %")
SENSITIVITY = 0.90
SPECIFICITIES = {0.90: ALARM, 0.95: INK, 0.99: LIMIT}


def rows():
    """One row a prevalence."""
    for prevalence in (0.01, 0.0354, 0.10, 0.25, 0.50):
        values = (predictive_value(SENSITIVITY, spec, prevalence) for spec in SPECIFICITIES)
        yield percent(prevalence, 2), *(percent(value, 1) for value in values)


def svg() -> str:
    """Curves on the left; a thousand people on the right."""
    return drawn("lesson-predictive", TITLE, "Predictive value falls with prevalence.", _draw)


def _draw(figure):
    curves, crowd = axes_of(figure)
    share = np.geomspace(0.002, 0.6, 120)
    for n, (spec, colour) in enumerate(SPECIFICITIES.items()):
        worth = [100 * predictive_value(SENSITIVITY, spec, p) for p in share]
        curves.semilogx(100 * share, worth, color=colour, lw=2)
        note(curves, 0.22, 82 + 8 * n, f"specificity {percent(spec)}", colour)
    curves.set_xticks([0.3, 1, 3, 10, 30], ["0.3", "1", "3", "10", "30"])
    curves.minorticks_off()
    labelled(curves, "prevalence, %", "alarms that are true, %")
    _crowd(crowd)


def _crowd(axes):
    """A thousand people at 3.54 %: 35 with loss, 32 found; 965 without, 48 alarms."""
    lost, found, alarms = 35, 32, 48
    for n in range(1000):
        if n < found:
            colour, size = LIMIT, 4.2
        elif n < lost:
            colour, size = INK, 4.2
        else:
            colour, size = (ALARM, 4.2) if n < lost + alarms else (FAINT, 2.2)
        axes.plot(n // 25, -(n % 25), "o", color=colour, ms=size, mew=0)
    axes.set(xticks=[], yticks=[], ylim=(-25, 4.5))
    axes.grid(False)
    note(axes, 0, 2.6, "32 true alarms", LIMIT)
    note(axes, 12, 2.6, "48 false ones", ALARM)
    note(axes, 24, 2.6, "3 missed", INK)
    axes.spines["bottom"].set_visible(False)


if __name__ == "__main__":
    show(COLUMNS, rows(), svg)
