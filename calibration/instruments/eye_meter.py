"""The eye as an instrument: drives a matching with whoever or whatever compares two patches."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from calibration.certificate import Instrument
from calibration.instruments.eye_match import (
    Look,
    Matching,
    MatchPlan,
    Request,
    answered,
    replayed,
    request,
)
from calibration.instruments.photometer import Details

Compare = Callable[[Request], Look]
Progress = Callable[[int, int, Request], object]


class EyeMeter:
    """Half-tone matching by eye; gives relative luminance and exponents, never cd/m2.

    Its relative uncertainty is not its own but that of the settings: see `EyePoint.relative_u`.
    """

    name = "half-tone matching by eye"

    def __init__(self, details: Details | None = None) -> None:
        self._details = details or Details()

    @property
    def identity(self) -> Instrument:
        """An eye; a person's name does not belong here."""
        found = Instrument(
            kind="eye", name=self.name, serial="", relative_uncertainty=0.0, simulated=False
        )
        return self._details.over(found)

    def matched(
        self,
        plan: MatchPlan,
        compare: Compare,
        answers: Iterable[Look] = (),
        progress: Progress | None = None,
    ) -> Matching:
        """A finished matching; `compare` shows a request and returns how the patch looks.

        `answers` given before are taken over. Raises InputError for one that cannot be.
        """
        state = replayed(plan, answers)
        while (shown := request(state)) is not None:
            if progress:
                progress(len(state.done), plan.matches, shown)
            state = answered(state, compare(shown))
        return state
