"""Fixed-step n-down-1-up with unequal steps: García-Pérez 1998, Vision Res 38:1861.

Step towards fainter over step towards stronger (his down over up) and the share seen where the
staircase settles; the share follows from p = (1 + ratio)**(-1/n).
"""

from __future__ import annotations

import pytest
from staircases import share_seen_where_it_settles

AREA = "Procedures"
SOURCE = "García-Pérez 1998, Vision Res 38:1861"

PUBLISHED = [(1, 0.2845, 0.7785), (2, 0.5488, 0.8035), (3, 0.7393, 0.8315), (4, 0.8415, 0.8584)]


@pytest.mark.parametrize(("n", "ratio", "share"), PUBLISHED)
def test_the_published_ratios_settle_at_the_published_shares(truth, n, ratio, share):
    assert (1 + ratio) ** (-1 / n) == pytest.approx(share, abs=1e-4)
    found, error = share_seen_where_it_settles(n, ratio, 0.1)
    print(f"{n}-down, ratio {ratio}: {found:.4f} +- {error:.4f}, published {share}")
    what = f"{n}-down-1-up, step ratio {ratio:g}: share seen where it settles"
    truth(what, found, share, 0.008 + 3 * error)
