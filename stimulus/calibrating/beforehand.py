"""What can be told of instruments before any window is opened for them."""

from __future__ import annotations

from calibration.instruments import open_photometer
from calibration.instruments.photometer import Details
from stimulus.buttons import require_button
from stimulus.calibrating.given import MATCH, ON_A_LINE, Given
from stimulus.calibrating.rig import rig_port
from stimulus.calibrating.sizes import card_settings
from stimulus.calibrating.step_sequence import recorded_steps


def refuse_wrong(given: Given) -> None:
    """Raise InputError for an instrument that cannot be; nothing is started yet."""
    if given.photometer:
        open_photometer(given.photometer, details_of(given))
    if given.button:
        require_button(given.button)
    if given.rig:
        rig_port(given.rig)
    if given.card and given.card != MATCH:
        card_settings(given.card)
    if given.trace and not given.trace.startswith(ON_A_LINE):
        recorded_steps(given)


def details_of(given: Given) -> Details:
    """What a person entered about the meter."""
    return Details(given.meter_name, given.meter_serial, given.meter_uncertainty)
