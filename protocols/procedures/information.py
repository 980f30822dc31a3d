"""The level whose answer is expected to tell most: least expected entropy of the posterior.

The entropy that an answer is expected to take away is the mutual information of answer and
parameters: entropy of the answer, less its mean entropy once the parameters are known. So one
product of the posterior with a fixed table replaces a posterior for every level and answer.
"""

from __future__ import annotations

import numpy as np

from protocols.field import Floats
from protocols.procedures.interface import Ints
from protocols.procedures.products import row_products
from protocols.procedures.psychometric import bernoulli_entropy


class Information:
    """Mutual information of the answers to levels; chances of a press of shape (levels, points)."""

    def __init__(self, chances: Floats) -> None:
        self._count = len(chances)
        known = np.concatenate([chances, bernoulli_entropy(chances)])
        self._table = np.ascontiguousarray(known.T)

    def gained(self, mass: Floats) -> Floats:
        """Nats that each level is expected to tell, (exams, levels), of posteriors (exams, k)."""
        products = row_products(mass, self._table)
        chance, noise = products[:, : self._count], products[:, self._count :]
        return np.asarray(bernoulli_entropy(chance) - noise)

    def best(self, mass: Floats) -> Ints:
        """Number of the level that tells most, (exams,); the first of equals."""
        return np.asarray(self.gained(mass).argmax(axis=-1), np.int64)
