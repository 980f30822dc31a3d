"""Opens a small window, draws in it, times its flips; prints what it found as JSON.

`python -m stimulus.doctor.window_program`: on the display at hand, else on a virtual screen.
"""

from __future__ import annotations

import json
import os
import sys

from protocols.errors import RipplefieldError

SIZE = (400, 300)
WORDS = ("A trial of this screen.", "Nothing to do: it ends by itself.")
FLIPS, LOADED_FLIPS = 240, 120
"""A quick look of some seconds; `calibrate timing` watches thousands."""


def main() -> int:
    """Exit 0 with one line of JSON, or 1 with one line of error."""
    try:
        print(json.dumps(found()))
    except RipplefieldError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def found() -> dict[str, object]:
    """Whether the screen is virtual, the renderer, the refresh, and hints on the system around."""
    from calibration.flips import numbered, tracked
    from calibration.frame_hints import hints
    from calibration.geometry import screen_of_width
    from calibration.transfer import srgb_nominal
    from stimulus.calibrating.flips import flips_at_rest_s, flips_under_load_s
    from stimulus.priority import first_in_line
    from stimulus.virtual_screen import virtual_screen
    from stimulus.window import StimulusWindow

    virtual = not os.environ.get("DISPLAY")
    screen = screen_of_width(*SIZE, 53.0 * SIZE[0] / 1280, 35.0)
    with virtual_screen(), first_in_line(), StimulusWindow(screen, srgb_nominal()) as window:
        window.message(WORDS)
        plain = tracked(flips_at_rest_s(window, FLIPS))
        loaded = numbered(flips_under_load_s(window, LOADED_FLIPS), plain.period_s)
        refresh = window.refresh
        return {
            "virtual": virtual,
            "renderer": window.renderer,
            "refresh_hz": refresh.refresh_hz,
            "locked": refresh.display_locked,
            "hints": hints(plain, loaded, refresh.display_locked),
        }


if __name__ == "__main__":
    sys.exit(main())
