"""Flash guidance: what a presentation is in area, rate and swing, and which limits it exceeds.

Two published rules, each with its own measure:

* WCAG 2.2, success criterion 2.3.1, general flash: opposing changes of 10 % or more of the
  maximum relative luminance where the darker is below 0.80, more than three a second, over more
  than 0.006 steradian within any 10 degrees of view.
* ITU-R BT.1702: changes of 20 cd/m2 or more where the darker is below 160 cd/m2, more than three
  a second, over more than a quarter of the screen.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, pi, radians

FLASHES_PER_SECOND = 3.0
WCAG_AREA_SR = 0.006
WCAG_SWING = 0.10
WCAG_DARKER_BELOW = 0.80
BT1702_SWING_CD_M2 = 20.0
BT1702_DARKER_BELOW_CD_M2 = 160.0
BT1702_SCREEN_SHARE = 0.25


@dataclass(frozen=True)
class FlashFacts:
    """Area in steradian, share of the screen, rate in Hz, swing and darker level.

    Relative luminances are fractions of the display's maximum; cd/m2 are None where the display
    was not measured.
    """

    area_sr: float
    screen_share: float
    rate_hz: float
    swing_relative: float
    darker_relative: float
    swing_cd_m2: float | None = None
    darker_cd_m2: float | None = None


@dataclass(frozen=True)
class FlashVerdict:
    """Whether each rule's limit is exceeded; None where it cannot be told."""

    over_wcag: bool
    over_bt1702: bool | None

    @property
    def over(self) -> bool:
        """Whether any limit is known to be exceeded."""
        return self.over_wcag or bool(self.over_bt1702)


def patch_area_sr(radius_deg: float) -> float:
    """Solid angle of a disc of this angular radius: 2*pi*(1 - cos r).

    >>> round(patch_area_sr(3.5), 4)
    0.0117
    """
    return 2 * pi * (1 - cos(radians(radius_deg)))


def grating_flash(
    contrast: float,
    radius_deg: float,
    rate_hz: float,
    screen_share: float,
    mean_relative: float,
    mean_cd_m2: float | None,
) -> FlashFacts:
    """Flash facts of a counterphase grating: at its bars luminance swings by 2*L0*C.

    `mean_relative` is L0 as a share of the screen's maximum.
    """
    dark = 1 - contrast
    return FlashFacts(
        area_sr=patch_area_sr(radius_deg),
        screen_share=screen_share,
        rate_hz=rate_hz,
        swing_relative=2 * mean_relative * contrast,
        darker_relative=mean_relative * dark,
        swing_cd_m2=None if mean_cd_m2 is None else 2 * mean_cd_m2 * contrast,
        darker_cd_m2=None if mean_cd_m2 is None else mean_cd_m2 * dark,
    )


def assess(facts: FlashFacts) -> FlashVerdict:
    """Hold the facts against both rules."""
    fast = facts.rate_hz > FLASHES_PER_SECOND
    wcag = (
        fast
        and facts.swing_relative >= WCAG_SWING
        and facts.darker_relative < WCAG_DARKER_BELOW
        and facts.area_sr > WCAG_AREA_SR
    )
    if not fast or facts.screen_share <= BT1702_SCREEN_SHARE:
        return FlashVerdict(wcag, False)
    if facts.swing_cd_m2 is None or facts.darker_cd_m2 is None:
        return FlashVerdict(wcag, None)
    bt1702 = (
        facts.swing_cd_m2 >= BT1702_SWING_CD_M2 and facts.darker_cd_m2 < BT1702_DARKER_BELOW_CD_M2
    )
    return FlashVerdict(wcag, bt1702)
