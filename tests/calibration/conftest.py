"""Properties are not timed (a busy machine is no fault of theirs) and print what failed."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("ripplefield", max_examples=50, deadline=None, print_blob=True)
settings.load_profile("ripplefield")
