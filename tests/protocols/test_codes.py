"""Participant codes refuse what could tell who it is, and say why."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from protocols.codes import require_code, require_initials
from protocols.errors import InputError

GOOD = [
    "P-017", "A1", "017", "K-3-B", "01-017-2", "P-3-12", "pilot-12",
    "abc-1", "DEMO-1", "S01-v2", "123456",
]  # fmt: skip
BAD = [
    ("Smith", "It has no digit, so it may be a name; add a number."),
    ("AB", "It has no digit"),
    ("Smith-1", "It holds a word that may be a name; use at most three letters."),
    ("j-miller-3", "It holds a word that may be a name"),
    ("19840312", "It looks like a date of birth; give the age in years instead."),
    ("1984-03-12", "It looks like a date of birth"),
    ("12-03-1984", "It looks like a date of birth"),
    ("P-12031984", "It looks like a date of birth"),
    ("12-03-84", "It looks like a date of birth"),
    ("84-3-12", "It looks like a date of birth"),
    ("3-2-1984", "It looks like a date of birth"),
    ("1984-3-2", "It looks like a date of birth"),
    ("P-120384", "It looks like a date of birth"),
    ("P-840312", "It looks like a date of birth"),
    ("P-03128-47", "It looks like a phone or identity number; use a short code."),
    ("0151-234567", "It looks like a phone or identity number"),
    ("", "Use a plain code."),
    ("7", "Use a plain code."),
    ("P 17", "Use a plain code."),
    ("a.b@c1", "Use a plain code."),
    ("P-17-", "Use a plain code."),
    ("-17", "Use a plain code."),
    ("../P-17", "Use a plain code."),
    ("P" * 18 + "-17", "Use a plain code."),
    ("Zoë-1", "Use a plain code."),
    ("P-17\n", "Use a plain code."),
]


@pytest.mark.parametrize("code", GOOD)
def test_plain_codes_are_taken(code):
    assert require_code(code) == code


@pytest.mark.parametrize(("code", "why"), BAD)
def test_names_dates_and_numbers_to_call_are_refused_with_the_reason(code, why):
    with pytest.raises(InputError) as refused:
        require_code(code)
    said = str(refused.value)
    assert said.startswith("--participant: got ")
    assert "no name, date, e-mail or phone number" in said
    assert why in said


FORMS = (
    "%Y%m%d", "%Y-%m-%d", "%d%m%Y", "%d-%m-%Y", "%m-%d-%Y", "%d%m%y", "%m%d%y", "%y%m%d",
    "%d-%m-%y", "%m-%d-%y", "%y-%m-%d", "%-d-%-m-%Y", "%Y-%-m-%-d", "%-m-%-d-%y",
)  # fmt: skip


@given(st.dates(), st.sampled_from(FORMS))
def test_no_date_of_birth_of_a_living_person_gets_through(date, form):
    if 1900 <= date.year <= 2099:
        with pytest.raises(InputError):
            require_code(date.strftime(form))


@given(st.text(alphabet="abcdefghijklmnopqrstuvwxyz", min_size=4, max_size=12), st.integers(0, 99))
def test_no_word_of_four_letters_gets_through_but_plain_ones(word, number):
    from protocols.codes import PLAIN_WORDS

    if word not in PLAIN_WORDS:
        with pytest.raises(InputError):
            require_code(f"{word}{number}")


@pytest.mark.parametrize("initials", ["AB", "abc", "WXYZ"])
def test_initials_are_two_to_four_letters(initials):
    assert require_initials(initials) == initials.upper()


@pytest.mark.parametrize("initials", ["", "A", "ABCDE", "A1", "A B", "Ä.B", "AB\n"])
def test_other_initials_are_refused(initials):
    with pytest.raises(InputError, match="the operator's initials, 2 to 4 letters"):
        require_initials(initials)
