"""Participant codes: a code and nothing that tells who it is."""

from __future__ import annotations

import re

from protocols.errors import InputError

ALLOWED = (
    "2 to 20 letters, digits and hyphens with at least one digit, such as P-017; no name, "
    "date, e-mail or phone number"
)
PLAIN_WORDS = frozenset({"demo", "test", "pilot", "code", "case", "subj", "part", "sample"})
_SHAPE = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,18}[A-Za-z0-9])?")
_DAY, _MONTH = r"(?:0?[1-9]|[12]\d|3[01])", r"(?:0?[1-9]|1[0-2])"
_DD, _MM = r"(?:0[1-9]|[12]\d|3[01])", r"(?:0[1-9]|1[0-2])"
_DATES = (
    re.compile(r"(?:19|20)\d\d-?(?:0[1-9]|1[0-2])-?(?:0[1-9]|[12]\d|3[01])"),
    re.compile(r"(?:0[1-9]|[12]\d|3[01])-?(?:0[1-9]|1[0-2])-?(?:19|20)\d\d"),
    re.compile(r"(?:0[1-9]|1[0-2])-?(?:0[1-9]|[12]\d|3[01])-?(?:19|20)\d\d"),
    re.compile(rf"(?<!\d)(?:{_DAY}-{_MONTH}|{_MONTH}-{_DAY})-(?:\d\d|\d{{4}})(?!\d)"),
    re.compile(rf"(?<!\d)(?:\d\d|\d{{4}})-{_MONTH}-{_DAY}(?!\d)"),
    re.compile(rf"(?<!\d)(?:{_DD}{_MM}\d\d|{_MM}{_DD}\d\d|\d\d{_MM}{_DD})(?!\d)"),
)


def require_code(code: str, parameter: str = "--participant") -> str:
    """Return the code; raises InputError if it looks like a name, a date or a number to call.

    `parameter` is what the error names.

    >>> require_code("P-017")
    'P-017'
    """
    if len(code) < 2 or not _SHAPE.fullmatch(code):
        raise _refused(parameter, code, "Use a plain code.")
    if not any(ch.isdigit() for ch in code):
        todo = "It has no digit, so it may be a name; add a number."
        raise _refused(parameter, code, todo)
    if any(len(word) > 3 and word.lower() not in PLAIN_WORDS for word in _words(code)):
        todo = "It holds a word that may be a name; use at most three letters."
        raise _refused(parameter, code, todo)
    if any(date.search(code) for date in _DATES):
        todo = "It looks like a date of birth; give the age in years instead."
        raise _refused(parameter, code, todo)
    if re.search(r"\d{7,}", code.replace("-", "")):
        todo = "It looks like a phone or identity number; use a short code."
        raise _refused(parameter, code, todo)
    return code


def require_initials(initials: str) -> str:
    """Return an operator's initials, 2 to 4 letters; raises InputError.

    >>> require_initials("AB")
    'AB'
    """
    if not re.fullmatch(r"[A-Za-z]{2,4}", initials):
        raise InputError(
            "--safety-confirmed-by",
            initials,
            "the operator's initials, 2 to 4 letters",
            "Ask the photosensitivity question, then give your initials.",
        )
    return initials.upper()


def _words(code: str) -> list[str]:
    return re.findall(r"[A-Za-z]+", code)


def _refused(parameter: str, code: str, todo: str) -> InputError:
    return InputError(parameter, code, ALLOWED, todo)
