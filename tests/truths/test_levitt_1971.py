"""Where n-down-1-up staircases settle: Levitt 1971, J Acoust Soc Am 49:467, table I.

The published figures are 0.5**(1/n), for small steps; ours are a twentieth of the spread, and 0.006
is what that step and the curve's bend leave.
"""

from __future__ import annotations

import pytest
from staircases import share_seen_where_it_settles

AREA = "Procedures"
SOURCE = "Levitt 1971, J Acoust Soc Am 49:467"


@pytest.mark.parametrize(("n", "published"), [(2, 0.7071), (3, 0.7937), (4, 0.8409)])
def test_n_down_one_up_settles_where_published(truth, n, published):
    assert 0.5 ** (1 / n) == pytest.approx(published, abs=5e-5)
    found, error = share_seen_where_it_settles(n, 1.0, 0.1)
    print(f"{n}-down-1-up: {found:.4f} +- {error:.4f}, published {published}")
    what = f"{n}-down-1-up: share seen where it settles"
    truth(what, found, published, 0.006 + 3 * error)


def test_one_down_one_up_settles_at_the_threshold(truth):
    found, error = share_seen_where_it_settles(1, 1.0, 0.1)
    truth("1-down-1-up: share seen where it settles", found, 0.5, 0.006 + 3 * error)
