"""What a certificate supports, as plain data."""

from __future__ import annotations

import json

from calibration.certificate import Certificate
from calibration.explain import missing, notes
from protocols import RESEARCH_ONLY


def supports_json(found: Certificate, lapsed: bool) -> str:
    """JSON text: parts missing, contrast range, refresh, when it lapses."""
    contrasts, timing = found.contrast_range, found.timing
    return json.dumps(
        {
            "notice": RESEARCH_ONLY,
            "sha256": found.sha256,
            "display": found.identity.display_name,
            "lapses_utc": found.lapses_utc,
            "lapsed": lapsed,
            "missing": missing(found),
            "lowest_contrast": contrasts and contrasts.lowest_contrast,
            "greatest_contrast": contrasts and contrasts.greatest_contrast,
            "refresh_hz": timing and timing.refresh_hz.value,
            "display_locked": timing and timing.display_locked,
            "notes": notes(found),
        },
        indent=2,
    )
