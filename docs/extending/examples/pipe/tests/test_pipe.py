"""The pipe under the contract of all buttons, pressed by a writer at its other end."""

from __future__ import annotations

import os

import pytest

from stimulus.buttons import open_button
from stimulus.contracts.button import ButtonContract, Rig


class TestPipe(ButtonContract):
    @pytest.fixture
    def rig(self, tmp_path):
        path = tmp_path / "pipe"
        os.mkfifo(path)
        hand = os.open(path, os.O_RDWR)
        made = Rig(open_button(f"pipe:{path}"), lambda: os.write(hand, b"x"), gap_s=0.01)
        yield made
        made.button.close()
        os.close(hand)
