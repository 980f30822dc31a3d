"""The files at the top of a dataset: description, README, participants."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from analysis.export.bids.runs import NEW_SESSION_AFTER, Run
from analysis.export.shared import CAUTION
from protocols import RESEARCH_ONLY, __version__

BIDS_VERSION = "1.11.1"
OLDEST_TOLD = 89
_AGE = "Age in years at the first exam; 89+ for anyone older than 89"
_SIMULATED = {"true": "a simulated participant: no person took part", "false": "a person"}

PARTICIPANT_COLUMNS: dict[str, Any] = {
    "participant_code": {"Description": "Code as it stands in the record"},
    "age": {"Description": _AGE, "Units": "year"},
    "simulated": {"Description": "Whether a program answered", "Levels": _SIMULATED},
    "exams": {"Description": "Exams of this participant in the dataset"},
}
SESSION_COLUMNS: dict[str, Any] = {
    "acq_time": {"Description": "When the first exam of the session was opened, UTC"},
    "age": {"Description": _AGE.replace("first exam", "session"), "Units": "year"},
}


def description() -> dict[str, Any]:
    """dataset_description.json."""
    return {
        "Name": "Ripplefield exams",
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "raw",
        "GeneratedBy": [
            {
                "Name": "Ripplefield",
                "Version": __version__,
                "Description": f"ripplefield export bids. {RESEARCH_ONLY}",
            }
        ],
        "ResearchUseOnly": RESEARCH_ONLY,
    }


def readme() -> str:
    """README.md, the same for all datasets."""
    hours = NEW_SESSION_AFTER.total_seconds() / 3600
    return f"""# Ripplefield exams

{RESEARCH_ONLY}

{CAUTION}

Exams of a research perimeter: flickering gratings at peripheral places, timed presses, catch trials
mixed in. One exam is one run; one row of an `_events.tsv` is one presentation, practice, catch
trials, and spoiled or interrupted ones among them. The JSON beside each table says what every
column means, and on what display the exam ran.

A participant's exams belong to one session while each began less than {hours:g} hours after the one
before it. Dates are those of the records, in UTC; of a person the tables hold a code and an age,
nothing else.

Read a table with pandas alone; numbers are then the same as in the journal, to the last digit:

    pandas.read_csv(path, sep="\\t", na_values="n/a")

Before pandas 3.1 add `float_precision="round_trip"`.
"""


def age_text(age_years: int) -> str:
    """An age as it may be told.

    >>> age_text(89), age_text(90)
    ('89', '89+')
    """
    return str(age_years) if age_years <= OLDEST_TOLD else f"{OLDEST_TOLD}+"


def participants_tsv(runs: Sequence[Run]) -> str:
    """One row a participant, in the order of the runs."""
    rows = [("participant_id", *PARTICIPANT_COLUMNS)]
    for subject, group in groupby(runs, key=lambda run: run.subject):
        own = list(group)
        opened = own[0].source.opened
        simulated = "true" if opened.simulated else "false"
        age = age_text(opened.age_years)
        rows.append((f"sub-{subject}", opened.participant, age, simulated, str(len(own))))
    return table(rows)


def sessions_tsv(runs: Sequence[Run]) -> str:
    """One row a session of one participant."""
    rows = [("session_id", *SESSION_COLUMNS)]
    for session_id, group in groupby(runs, key=lambda run: run.session_id):
        first = next(group).source
        rows.append((session_id, first.opened_utc, age_text(first.opened.age_years)))
    return table(rows)


def scans_tsv(runs: Sequence[Run]) -> str:
    """One row a run of one session."""
    rows = [("filename", "acq_time")]
    rows += [(f"{run.stem}.tsv", run.source.opened_utc) for run in runs]
    return table(rows)


def table(rows: Sequence[Sequence[str]]) -> str:
    """Rows as tab-separated text."""
    return "".join("\t".join(row) + "\n" for row in rows)
