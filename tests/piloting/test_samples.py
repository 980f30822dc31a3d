"""How many people a study takes: against published tables, statsmodels and simulation."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy.stats import binom
from statsmodels.stats.power import TTestIndPower, TTestPower

from analysis.agreement import bland_altman
from analysis.piloting.samples import (
    agreement_pairs,
    group_people,
    group_power,
    limit_people,
    near_limit_people,
    paired_people,
    paired_power,
)
from protocols import RESEARCH_ONLY
from protocols.errors import InputError
from stimulus.cli import run


@pytest.mark.parametrize(
    ("share", "counts"),
    [(0.05, (59, 93, 124, 153, 181)), (0.01, (299, 473, 628, 773, 913))],
)
def test_ranks_as_in_the_tables_of_wilks_formula(share: float, counts: tuple[int, ...]) -> None:
    """One-sided 95 %/95 % and 99 %/95 % by order; as printed in tables of nuclear safety (from
    memory). And no fewer would do: the binomial chance is below 95 % one person earlier."""
    for rank, people in enumerate(counts, start=1):
        assert limit_people(share, rank) == people
        assert binom.sf(rank - 1, people, share) >= 0.95
        assert binom.sf(rank - 1, people - 1, share) < 0.95


def test_a_limit_of_normal_levels_is_known_as_well_as_asked() -> None:
    """By simulation: mean less 2.326 SD of so many people lies within 1 dB in 95 % of samples."""
    people = near_limit_people(0.01, 2.5, 1.0)
    dice = np.random.default_rng(3)
    samples = dice.normal(25, 2.5, (20_000, people))
    limits = samples.mean(axis=1) - 2.3263 * samples.std(axis=1, ddof=1)
    assert (abs(limits - (25 - 2.3263 * 2.5)) <= 1.0).mean() == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("pairs", [12, 100, 200])
def test_agreement_is_as_sure_as_bland_altmans_own_interval(pairs: int) -> None:
    """100 pairs give 0.34 SD either side and 200 give 0.24 (Bland, sample size for a study of
    agreement; from memory, with 1.96 for t)."""
    dice = np.random.default_rng(pairs)
    differences = dice.normal(0, 1.5, pairs)
    found = bland_altman(differences, np.zeros(pairs))
    half = (found.high_interval[1] - found.high_interval[0]) / 2
    assert agreement_pairs(found.sd, half) == pairs
    if pairs in (100, 200):
        assert 1.96 * np.sqrt(3 / pairs) == pytest.approx({100: 0.34, 200: 0.24}[pairs], abs=0.005)


@pytest.mark.parametrize(
    ("effect", "paired", "in_each_group"), [(0.2, 199, 394), (0.5, 34, 64), (0.8, 15, 26)]
)
def test_small_medium_and_large_effects(effect: float, paired: int, in_each_group: int) -> None:
    """Two-sided 5 %, power 80 %: Cohen 1992, Psychol Bull 112:155, table 2 (393 by his rounding
    for the small effect of two groups); paired from G*Power's manual (from memory)."""
    assert paired_people(effect, 1.0) == paired
    assert abs(group_people(effect, 1.0) - in_each_group) <= 1


@pytest.mark.parametrize("effect", [0.15, 0.5, 1.3])
@pytest.mark.parametrize("alpha", [0.01, 0.05])
def test_powers_are_statsmodels(effect: float, alpha: float) -> None:
    for people in (5, 12, 25):
        theirs = TTestPower().power(effect, people, alpha)
        assert paired_power(people, effect, 1.0, alpha) == pytest.approx(theirs, abs=1e-9)
        theirs = TTestIndPower().power(effect, people, alpha)
        assert group_power(people, effect, 1.0, alpha) == pytest.approx(theirs, abs=1e-9)
    needed = TTestPower().solve_power(effect, alpha=alpha, power=0.9)
    assert paired_people(effect, 1.0, 0.9, alpha) == int(np.ceil(needed))


def test_a_huge_effect_takes_two_people_and_a_tiny_one_is_refused() -> None:
    assert paired_people(60, 0.01) == 2
    with pytest.raises(InputError, match=r"people: got .more than 10,000,000.; allowed: studies"):
        agreement_pairs(60, 0.01)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["reference"], {"people_without_assumptions": 299}),
        (
            ["reference", "--share", "0.05", "--rank", "2", "--sd-db", "2.5", "--within-db", "1"],
            {"people_without_assumptions": 93, "people_normal": 57},
        ),
        (["agreement", "--sd-db", "1.5", "--within-db", "0.5"], {"pairs": 107}),
        (["difference", "--difference-db", "1", "--sd-db", "2"], {"people": 34}),
        (
            ["difference", "--difference-db", "1", "--sd-db", "2", "--groups"],
            {"people_in_each_group": 64},
        ),
    ],
)
def test_the_command_says_it(words, said, capsys) -> None:
    assert run(["samples", *words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"notice": RESEARCH_ONLY, **said}
    assert run(["samples", *words]) == 0
    text = capsys.readouterr().out
    assert all(str(count) in text for count in said.values())
    assert text.endswith(f"{RESEARCH_ONLY}\n")


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (
            ["reference", "--sd-db", "2"],
            '--sd-db: got "no --within-db"; allowed: both together or neither. Add --within-db, '
            "or leave it out.",
        ),
        (
            ["agreement", "--sd-db", "0", "--within-db", "1"],
            '--sd-db: got "0"; allowed: a number from 0.01 to 60, in dB. Take it from a pilot or '
            "from earlier data.",
        ),
        (
            ["difference", "--difference-db", "1", "--sd-db", "2", "--power", "80"],
            '--power: got "80"; allowed: a number from 0.5 to 0.999. Leave it out for 0.8.',
        ),
    ],
)
def test_wrong_words_are_one_clear_line(words, error, capsys) -> None:
    assert run(["samples", *words]) == 2
    assert capsys.readouterr().err == f"error: {error}\n"
