"""Ripplefield's own procedures under the contract of all procedures: listed once in `SETTINGS`."""

from __future__ import annotations

import pytest
from rigs import SETTINGS

from protocols.contracts.procedure import ProcedureContract
from protocols.procedures.plugged import BUILT_IN


class TestProcedures(ProcedureContract):
    @pytest.fixture(scope="module", params=SETTINGS)
    @classmethod
    def settings(cls, request):
        return SETTINGS[request.param]


def test_every_kind_is_held_to_it():
    kinds = {type(one).__struct_config__.tag for one in SETTINGS.values()}
    assert kinds == set(BUILT_IN)
