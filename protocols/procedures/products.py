"""Row-by-row matrix products whose result does not depend on how many rows there are."""

from __future__ import annotations

import numpy as np

from protocols.field import Floats

BLOCK = 8
"""Rows multiplied at a time: one shape for all, so that one kernel sums in one order."""


def row_products(rows: Floats, table: Floats) -> Floats:
    """rows (n, k) @ table (k, m), the same to the last bit for a row alone and among others.

    Linear-algebra libraries choose the order of sums by the matrices' shape; here each product has
    the same shape, filled up with zeros. The unit is that of the product.

    >>> rows, table = np.random.rand(20, 5), np.random.rand(5, 3)
    >>> bool((row_products(rows, table)[7] == row_products(rows[7:8], table)[0]).all())
    True
    """
    n, k = rows.shape
    blocks = -(-n // BLOCK)
    if n != blocks * BLOCK:
        filled = np.zeros((blocks * BLOCK, k))
        filled[:n] = rows
        rows = filled
    product = rows.reshape(blocks, BLOCK, k) @ table
    return np.asarray(product.reshape(blocks * BLOCK, -1)[:n])
