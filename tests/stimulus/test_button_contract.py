"""Ripplefield's own buttons under the contract of all buttons, each really pressed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from button_rigs import RIGS

from protocols.errors import InputError
from stimulus.buttons import open_button
from stimulus.contracts.button import ButtonContract, Rig


class TestButtons(ButtonContract):
    @pytest.fixture(params=list(RIGS))
    def rig(self, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Rig]:
        if request.param == "keyboard":
            request.getfixturevalue("display")
        with RIGS[request.param](tmp_path) as made:
            yield made
            made.button.close()


def test_an_unknown_kind_names_the_known_ones() -> None:
    with pytest.raises(InputError, match=r'button: got "foot:1"; allowed: .*keyboard, serial'):
        open_button("foot:1")


def test_a_keyboard_needs_a_window() -> None:
    with pytest.raises(InputError, match="Open the window before the button"):
        open_button("keyboard")


@pytest.mark.parametrize(
    ("spec", "words"), [("keyboard:usb", "without a colon"), ("serial:", "Name the port")]
)
def test_details_are_checked(spec: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        open_button(spec)
