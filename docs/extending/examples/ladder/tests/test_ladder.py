"""The ladder under the contract of all procedures."""

from __future__ import annotations

import pytest
from ripplefield_example_ladder import LadderSettings

from protocols.contracts.procedure import ProcedureContract

SETTINGS = (LadderSettings(), LadderSettings(rungs=2, first_below_limit_db=3.0))


class TestLadder(ProcedureContract):
    @pytest.fixture(scope="module", params=SETTINGS)
    @classmethod
    def settings(cls, request):
        return request.param
