"""What every export says, and the parts of a record that may leave a lab."""

from __future__ import annotations

import uuid

import msgspec

from analysis.load import ExamRecord
from analysis.report.exam import Shown
from analysis.result import Result
from protocols.procedures.settings import RisingSettings

CAUTION = (
    "Experimental export of research data. Values are contrast dB, 20*log10(1/C) of a flickering "
    "grating's delivered Michelson contrast, NOT the attenuation dB of luminance-increment "
    "perimetry. Do not compare them with such values."
)

_SPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:ripplefield:export")
LEFT_OUT = "left out of exports"


def is_screening(exam: ExamRecord) -> bool:
    """Whether the exam screens (rising procedure) or measures thresholds."""
    return isinstance(exam.protocol.settings.procedure, RisingSettings)


def stable_uuid(*parts: str) -> uuid.UUID:
    """A name-based UUID (RFC 9562, version 5): the same parts, the same UUID.

    >>> stable_uuid("a", "b") == stable_uuid("a", "b") != stable_uuid("ab", "")
    True
    """
    return uuid.uuid5(_SPACE, "\n".join(parts))


def button_kind(name: str) -> str:
    """The button's kind without the port or file it was named by.

    >>> button_kind("simulated:people/someone.toml")
    'simulated'
    """
    return name.partition(":")[0]


def shareable(shown: Shown) -> Shown:
    """The same exam without operator's initials, paths of the command line, or words of a lab."""
    result = shown.result
    replace = msgspec.structs.replace
    exam = replace(result.exam, command=LEFT_OUT, button=button_kind(result.exam.button))
    safety = replace(result.safety, confirmed_by=_confirmed(result))
    return Shown(shown.record, replace(result, exam=exam, safety=safety))


def _confirmed(result: Result) -> str:
    return "the operator" if result.safety.confirmed_by else ""
