"""IEC 61966-2-1 (sRGB): code 128 and the smallest steps about mid grey on 8 bits.

Code 128 is 0.215860500114 of the maximum. Michelson contrast between the codes just above and just
below the middle: 0.007874 on a linear display, 0.011879 on an sRGB one (computed). colour-science
is asked live for the whole curve.
"""

from __future__ import annotations

import colour
import numpy as np
import pytest

from calibration.transfer import CODE_STEPS, linear, srgb_nominal

AREA = "Display"
SOURCE = "IEC 61966-2-1; colour-science live"


def test_code_128(truth):
    found = srgb_nominal().luminance[:, 128]
    truth("sRGB: code 128, share of the maximum", found, np.full(3, 0.215860500114), 1e-11)


def test_the_whole_curve_against_colour_science(truth):
    """Tolerance: the standard rounds its own joint (0.04045); both keep the rounded constants."""
    theirs = colour.models.eotf_sRGB(CODE_STEPS / 255)
    truth("sRGB: the whole curve", srgb_nominal().luminance, np.tile(theirs, (3, 1)), 1e-9)


def test_the_smallest_step_of_a_linear_display(truth):
    what = "smallest step about mid grey, 8 bits, linear: contrast"
    truth(what, linear().step_contrast(127), 0.007874, 5e-7)


def test_the_smallest_step_of_an_srgb_display(truth):
    """Mid grey is code 188 there: of all whole codes the nearest to half the maximum luminance."""
    transfer = srgb_nominal()
    assert int(np.argmin(np.abs(transfer.luminance[0] - 0.5))) == 188
    what = "smallest step about mid grey, 8 bits, sRGB: contrast"
    truth(what, transfer.step_contrast(188), 0.011879, 5e-7)


def test_our_mean_grey_is_within_one_code_of_it():
    """Ours is the highest whole code of at most half the maximum: full contrast stays possible."""
    transfer = srgb_nominal()
    assert transfer.mean_codes == (187, 187, 187)
    assert transfer.step_contrast(187) == pytest.approx(0.011879, rel=0.006)


def test_plain_codes_cannot_show_the_contrasts_that_dithering_must():
    """Why there is dithering: half a per cent is less than one step of either display."""
    for transfer in (linear(), srgb_nominal()):
        assert transfer.step_contrast(transfer.mean_codes[0]) > 0.005
