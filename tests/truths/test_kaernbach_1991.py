"""The weighted up-down method: Kaernbach 1991, Percept Psychophys 49:227.

For a target p the step after "not seen" over the step after "seen" is p / (1 - p): 3 for 0.75.
Our setting is the other way round, fainter over stronger.
"""

from __future__ import annotations

import pytest
from staircases import share_seen_where_it_settles

AREA = "Procedures"
SOURCE = "Kaernbach 1991, Percept Psychophys 49:227"


@pytest.mark.parametrize(("p", "stronger_over_fainter"), [(0.75, 3.0), (0.5, 1.0), (0.9, 9.0)])
def test_unequal_steps_settle_at_their_target(truth, p, stronger_over_fainter):
    assert p / (1 - p) == pytest.approx(stronger_over_fainter)
    found, error = share_seen_where_it_settles(1, 1 / stronger_over_fainter, 0.2)
    print(f"ratio {stronger_over_fainter:g}: {found:.4f} +- {error:.4f}, target {p}")
    what = f"weighted up-down, steps {stronger_over_fainter:g} to 1: share seen where it settles"
    truth(what, found, p, 0.012 + 3 * error)
