"""Pictures of a pilot: cost against accuracy, times, errors, detection, slips."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes

from analysis.figures.labels import Box, Disc, place_labels, text_width_pt
from analysis.figures.style import ALARM, BAND, FAINT, INK, LIMIT, SOFT
from analysis.piloting.result import Measure, Objectives, PilotResult, VariantResult
from analysis.piloting.words import tags
from analysis.plain_page.page import Picture, labelled, picture

WIDE_IN = (3.6, 3.0)
SMALL_IN = (2.3, 2.0)
FIELD_IN = (2.3, 2.3)
MOST_SMALL = 12
"""Variants that get small pictures; the tables hold all."""
LABEL_PT = 7.5
_TABLE = "The numbers are in the tables below."


def pareto_pictures(result: PilotResult) -> tuple[Picture, Picture]:
    """Time against error and against detection, each variant a point with its intervals."""
    return (
        _pareto(
            result, "pareto-error", "Time against error", "RMS error, dB",
            lambda found: found.rms_db, 1.0, "Better is left and down.",
        ),
        _pareto(
            result, "pareto-detection", "Time against detection",
            "sensitivity at high specificity, %", lambda found: found.sensitivity, 100.0,
            "Better is left and up. High specificity: 95 % and more, the mean over it.",
        ),
    )  # fmt: skip


def _pareto(
    result: PilotResult,
    kind: str,
    title: str,
    label: str,
    height: Callable[[Objectives], Measure],
    scale: float,
    note: str,
) -> Picture:
    dominated = {one.variant for one in result.dominated}

    def draw(axes: Axes) -> None:
        for name, found in result.objectives.items():
            _point(axes, found.seconds, scaled(height(found), scale), name in dominated)
        axes.margins(x=0.24, y=0.14)
        labelled(axes, "mean seconds an eye", label)
        crosses = [(one.seconds, scaled(height(one), scale)) for one in result.objectives.values()]
        _name_points(axes, crosses, list(tags(list(result.objectives)).values()))

    words = f"{title} of {len(result.objectives)} variants. {_TABLE}"
    note = f"{note} Rings with a cross are dominated; lines are 95 % intervals."
    return picture(kind, title, words, WIDE_IN, draw, note)


def scaled(found: Measure, scale: float) -> Measure:
    """A measure in another unit."""
    return Measure(scale * found.value, scale * found.low, scale * found.high)


def _point(axes: Axes, x: Measure, y: Measure, dominated: bool) -> None:
    axes.plot([x.low, x.high], [y.value] * 2, color=SOFT, lw=1.1)
    axes.plot([x.value] * 2, [y.low, y.high], color=SOFT, lw=1.1)
    face = "none" if dominated else LIMIT
    colour = ALARM if dominated else LIMIT
    axes.plot(x.value, y.value, "o", ms=8, mfc=face, mec=colour, mew=1.4)
    if dominated:
        axes.plot(x.value, y.value, "x", ms=4.5, color=ALARM, mew=1.2)


def _name_points(
    axes: Axes, crosses: Sequence[tuple[Measure, Measure]], names: Sequence[str]
) -> None:
    """Names beside points, where they touch nothing."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    figure.draw_without_rendering()
    to_pt = 72.0 / figure.dpi
    ends = np.array([[(x.value, y.value), (x.low, y.low), (x.high, y.high)] for x, y in crosses])
    at_pt = axes.transData.transform(ends.reshape(-1, 2)).reshape(-1, 3, 2) * to_pt
    discs = [Disc(x, y, 6.0) for x, y in at_pt[:, 0].tolist()]
    lines = [box for one in at_pt for box in _line_boxes(*one.tolist())]
    sizes = [(text_width_pt(name, LABEL_PT), LABEL_PT * 1.2) for name in names]
    outside = _outside(*(figure.get_size_inches() * 72.0).tolist())
    boxes = place_labels(discs, sizes, [*lines, *outside], 2.0)
    for name, box in zip(names, boxes, strict=True):
        middle = np.array([box.x, box.y]) / to_pt
        x, y = axes.transData.inverted().transform(middle).tolist()
        said = axes.text(x, y, name, fontsize=LABEL_PT, color=INK, ha="center", va="center")
        said.set_in_layout(False)


def _outside(width_pt: float, height_pt: float) -> tuple[Box, Box]:
    """What lies left and right of a picture of this size: no name may reach there."""
    far = 1000.0
    middle = height_pt / 2
    return Box(-far / 2, middle, far, far), Box(width_pt + far / 2, middle, far, far)


def _line_boxes(at: list[float], low: list[float], high: list[float]) -> tuple[Box, Box]:
    """Where the two lines of a point lie, (x, y) in points each."""
    across = Box((low[0] + high[0]) / 2, at[1], high[0] - low[0], 1.0)
    return across, Box(at[0], (low[1] + high[1]) / 2, 1.0, high[1] - low[1])


def times_picture(result: PilotResult) -> Picture:
    """Median and 95th percentile of time, without and with loss."""
    variants, names = result.variants, tags(list(result.objectives))
    rows = np.arange(len(variants))[::-1]

    def draw(axes: Axes) -> None:
        for row, variant in zip(rows.tolist(), variants, strict=True):
            for cost, lift, mark in zip(variant.costs, (0.14, -0.14), ("o", "D"), strict=False):
                median, high = cost.seconds.median.value, cost.seconds.percentile_95.value
                axes.plot([median, high], [row + lift] * 2, color=SOFT, lw=1.4)
                face = LIMIT if mark == "o" else "none"
                axes.plot(median, row + lift, mark, ms=5.5, mfc=face, mec=LIMIT, mew=1.3)
                axes.plot(high, row + lift, "|", ms=8, color=SOFT, mew=1.4)
        axes.set_yticks(rows.tolist(), [names[variant.label] for variant in variants])
        axes.set_xlim(left=0)
        axes.set_ylim(-0.6, len(variants) - 0.4)
        labelled(axes, "seconds an eye", "")

    words = f"Median and 95th percentile of time of {len(variants)} variants. {_TABLE}"
    note = "From median to 95th percentile; dots: people without loss, diamonds: with."
    height = max(2.2, 0.38 * len(variants) + 0.9)
    return picture("times", "Time an exam takes", words, (WIDE_IN[0], height), draw, note)


def small_pictures(
    result: PilotResult, make: Callable[[VariantResult, int, PilotResult], Picture]
) -> tuple[Picture, ...]:
    """One small picture a variant, for the first few."""
    return tuple(make(one, k, result) for k, one in enumerate(result.variants[:MOST_SMALL]))


def depth_picture(variant: VariantResult, number: int, result: PilotResult) -> Picture:
    """Bias and RMS error by depth."""
    known = [row for row in variant.by_depth if row.errors is not None]
    x = [k for k, row in enumerate(variant.by_depth) if row.errors is not None]

    def draw(axes: Axes) -> None:
        axes.axhline(0, color=FAINT, lw=1)
        for mark, look, pick in (("o", "-", "rms_db"), ("D", "--", "bias_db")):
            found = [getattr(row.errors, pick) for row in known]
            face = INK if mark == "o" else "none"
            axes.vlines(x, [m.low for m in found], [m.high for m in found], color=SOFT, lw=1.1)
            axes.plot(x, [m.value for m in found], look, color=LIMIT, lw=1.1)
            axes.plot(x, [m.value for m in found], mark, ms=4, mfc=face, mec=INK, ls="")
        axes.set_xticks(range(6), ["0", "2", "6", "12", ">16", "∞"])
        axes.set_ylim(*_depth_span(result))
        labelled(axes, "loss at the place, dB", "dB")

    words = f"Bias and RMS error of {variant.label} by depth of loss. {_TABLE}"
    return picture(f"depth-{number}", variant.label, words, SMALL_IN, draw, small=True)


def _depth_span(result: PilotResult) -> tuple[float, float]:
    found = [row.errors for one in result.variants for row in one.by_depth if row.errors]
    return min(m.bias_db.low for m in found) - 0.5, max(m.rms_db.high for m in found) + 0.5


def field_picture(variant: VariantResult, number: int, result: PilotResult) -> Picture:
    """RMS error at each place, as a number where the place is, in true degrees."""
    edge = 3 + max(np.hypot(p.x_deg, p.y_deg) for one in result.variants for p in one.by_place)

    def draw(axes: Axes) -> None:
        turn = np.linspace(0, 2 * np.pi, 121)
        for radius in (10.0, 20.0):
            axes.plot(radius * np.cos(turn), radius * np.sin(turn), color=FAINT, lw=0.7)
        for place in variant.by_place:
            text = f"{place.errors.rms_db.value:.1f}"
            axes.text(
                place.x_deg, place.y_deg, text, fontsize=7.5, color=INK, ha="center", va="center"
            )
        axes.set_xlim(-edge, edge)
        axes.set_ylim(-edge, edge)
        axes.set_aspect("equal")
        axes.set_axis_off()

    words = f"RMS error of {variant.label} in dB at each place of a right eye. {_TABLE}"
    return picture(f"field-{number}", variant.label, words, FIELD_IN, draw, small=True)


def roc_picture(variant: VariantResult, number: int, result: PilotResult) -> Picture:
    """ROC curve with its band."""
    points = variant.detection.roc
    x = [100 * p.false_alarms for p in points]

    def draw(axes: Axes) -> None:
        low, high = ([100 * getattr(p.sensitivity, e) for p in points] for e in ("low", "high"))
        axes.fill_between(x, low, high, color=BAND, lw=0)
        axes.plot([0, 100], [0, 100], ":", color=SOFT, lw=0.8)
        axes.plot(x, [100 * p.sensitivity.value for p in points], color=LIMIT, lw=1.4)
        axes.set_xlim(-1, 101)
        axes.set_ylim(0, 101)
        labelled(axes, "false alarms, %", "found, %")

    words = f"ROC curve of the whole-field test under {variant.label}. {_TABLE}"
    return picture(f"roc-{number}", variant.label, words, SMALL_IN, draw, small=True)


def slips_picture(variant: VariantResult, number: int, result: PilotResult) -> Picture:
    """RMS error where everybody lapses or presses falsely at one rate."""
    top = max(row.errors.rms_db.high for one in result.variants for row in one.slips)

    def draw(axes: Axes) -> None:
        for habit, mark, look in (("lapses", "o", "-"), ("false presses", "D", "--")):
            rows = [row for row in variant.slips if row.habit == habit and row.rate is not None]
            x = [100 * (row.rate or 0.0) for row in rows]
            found = [row.errors.rms_db for row in rows]
            axes.vlines(x, [m.low for m in found], [m.high for m in found], color=SOFT, lw=1.1)
            axes.plot(x, [m.value for m in found], look, color=LIMIT, lw=1.1)
            face = INK if mark == "o" else "none"
            axes.plot(x, [m.value for m in found], mark, ms=4, mfc=face, mec=INK, ls="")
        axes.set_ylim(0, top + 0.5)
        labelled(axes, "rate, %", "RMS error, dB")

    words = f"RMS error of {variant.label} by rate of lapses and of false presses. {_TABLE}"
    return picture(f"slips-{number}", variant.label, words, SMALL_IN, draw, small=True)
