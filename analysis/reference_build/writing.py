"""A reference as TOML text that `analysis.reference.load_reference` reads back to the same file."""

from __future__ import annotations

from typing import Any

import msgspec

from analysis.reference import ReferenceFile
from protocols.toml_text import keys_text, table_text

HEAD = """\
# Age limits from a lab's own healthy exams. Research use only, not a diagnosis.
# Level of a share of people at a place and age, in delivered contrast dB:
#   median_db + change_db_per_year * (age - middle_age_years)
#   + depth_db + its change_db_per_year * (age - middle_age_years)
#   + its change_db_per_deg * (eccentricity - middle_eccentricity_deg)
"""


def reference_toml(file: ReferenceFile) -> str:
    """The file's text, the same for the same reference."""
    data: dict[str, Any] = msgspec.to_builtins(file)
    measured = data.pop("measured", None)
    text = HEAD + keys_text(data)
    return text if measured is None else text + table_text("measured", measured)
