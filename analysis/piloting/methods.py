"""The methods of a pilot as text that a paper could adapt."""

from __future__ import annotations

from analysis.piloting.plan import PlanFile
from analysis.piloting.result import PilotResult
from analysis.piloting.words import listed


def methods(result: PilotResult, plan: PlanFile) -> tuple[str, ...]:
    """Paragraphs: people, exams, measures, comparison."""
    return (_people(result, plan), _exams(result, plan), _measures(result), _comparison(result))


def _people(result: PilotResult, plan: PlanFile) -> str:
    of = plan.population
    mix = [
        f"{name.replace('_', ' ')} {100 * share:.3g} %" for name, share in of.mix.shares.items()
        if share
    ]  # fmt: skip
    return (
        f"We simulated {result.people:,} people aged {of.from_age_years:g} to "
        f"{of.to_age_years:g} years ({result.people_with_loss:,} with loss; drawn as "
        f"{listed(mix)}). A healthy field was an age-dependent hill with deviations in height, "
        "steepness, smoothly over the field and from place to place (SD about 2.5 dB in all); "
        "losses followed invented shapes after textbook descriptions. Seeing curves were cumulative"
        " Gaussians that widen with loss (after Henson 2000, carried over to contrast dB by "
        "assumption). Each person had a lapse rate and a false-press rate of their own (beta laws "
        f"with means {100 * of.mean_lapse_rate:.2g} % and {100 * of.mean_false_press_rate:.2g} %)."
        " All of it is invented: no person was measured."
    )


def _exams(result: PilotResult, plan: PlanFile) -> str:
    names = listed([variant.label for variant in result.variants])
    slips = plan.robustness
    text = (
        f"Each person's right eye was examined {result.repeats} "
        f"{'time' if result.repeats == 1 else 'times'} under each of {names}, on an ideal 60 Hz "
        "display, against the program's reference of age limits, with the same random numbers for "
        "the same person under every protocol."
    )
    if slips.lapse_rates or slips.false_press_rates:
        text += (
            f" {slips.people:,} of them were examined again with one lapse rate or one false-press "
            "rate for everybody."
        )
    return f"{text} In all there were {result.exams:,} simulated exams."


def _measures(result: PilotResult) -> str:
    return (
        "Time is from the first onset to the end of the last answer window of an eye, without "
        "practice and rests. Error is the estimate of the result less the truth; a truth below "
        "what full contrast shows counts as full contrast. Coverage is the share of truths in the "
        "95 % interval. The spread of repeats is the SD within a person at the same place; "
        "repeatability is 1.96 √2 times it (Bland & Altman 1986). Detection rests on the "
        "whole-field test's likelihood ratio; cuts were set on the people without loss. "
        f"Predictive values are for a prevalence of {100 * result.prevalence:.3g} % (logit "
        "intervals, Mercaldo 2007). Intervals of shares of people are Wilson's, of shares of "
        "places those of Korn & Graubard (1998), of the area under the ROC curve those of Hanley & "
        "McNeil (1982), of quantiles Woodruff's (1952); other intervals "
        "treat the places and repeats of a person as one cluster. All intervals are of chance in "
        "the simulation only: they say nothing of how well it describes people."
    )


def _comparison(result: PilotResult) -> str:
    count = len(result.variants)
    return (
        "Variants were weighed by mean time at that prevalence, root-mean-square error over all "
        "places in the drawn mix, and mean sensitivity at specificities of 95 % and more. "
        "Standard errors of differences come from 400 bootstrap draws of people, those with and "
        f"without loss apart; intervals hold for all {count * (count - 1) // 2} pairs and three "
        "objectives together (Bonferroni, 95 %). A variant was called dominated if another was "
        "better in one objective by more than the margin over the whole interval and no worse in "
        "the others by more than the margin anywhere in it."
    )
