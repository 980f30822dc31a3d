"""The sign-flip test: is a mean of differences further from 0 than chance signs would put it?

If nothing changed, each difference is as likely as its opposite (Fisher 1935, The Design of
Experiments, ch. 3). Exact by enumeration up to `ENUMERATED` differences, else by random signs with
the observed ones counted in (Phipson & Smyth 2010, Stat Appl Genet Mol Biol 9:39).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from protocols.field import Floats

ENUMERATED = 20
DRAWN = 100_000
_TIE = 1e-9


@dataclass(frozen=True)
class FlipTest:
    """Two-sided and one-sided (upward) probability; how many arrangements; whether all of them."""

    p: float
    p_up: float
    arrangements: int
    exact: bool


def sign_flip(differences: Floats) -> FlipTest:
    """The test of differences (n,), n from 1. In any unit."""
    sums = _all_sums(differences) if len(differences) <= ENUMERATED else _drawn(differences)
    seen = float(differences.sum())
    two = float(np.mean(np.abs(sums) >= abs(seen) - _TIE))
    up = float(np.mean(sums >= seen - _TIE))
    return FlipTest(two, up, len(sums), len(differences) <= ENUMERATED)


def _all_sums(differences: Floats) -> Floats:
    """Sums under every arrangement of signs, (2**n,)."""
    sums = np.zeros(1)
    for one in differences:
        sums = np.concatenate([sums + one, sums - one])
    return sums


def _drawn(differences: Floats) -> Floats:
    rng = np.random.default_rng(0)
    sums = [float(differences.sum())]
    for _ in range(100):
        signs = rng.choice([-1.0, 1.0], (DRAWN // 100, len(differences)))
        sums.extend((signs @ differences).tolist())
    return np.array(sums)
