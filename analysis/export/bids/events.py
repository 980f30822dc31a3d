"""An exam's presentations as an events table, and the JSON that explains it."""

from __future__ import annotations

from typing import Any

from analysis.export.bids.columns import COLUMNS
from analysis.export.shared import CAUTION, button_kind
from analysis.load import ExamRecord, Trial
from protocols import RESEARCH_ONLY
from protocols.events import AnsweredLine, Held, Presented, Resumed

NONE = "n/a"
PSYCHOPY_RRID = "RRID:SCR_006571"
_RENAMED = {"onset": "onset_s", "trial_type": "role"}
_SHOWN = set(Presented.__struct_fields__)
_ANSWERS = {
    "response_time": "response_time_s",
    "corrected_response_time": "corrected_response_time_s",
    "presses": "presses_s",
    "answer_spoiled": "spoiled",
    "verdict": "verdict",
    "press_s": "press_s",
}


def events_tsv(exam: ExamRecord) -> str:
    """One row a presentation, in order; a number reads back as it stands in the journal."""
    lines = ["\t".join(column.name for column in COLUMNS)]
    refresh_hz = exam.display.refresh_hz
    lines += ["\t".join(_row(trial, refresh_hz)) for trial in exam.trials]
    return "\n".join(lines) + "\n"


def sidecar(exam: ExamRecord) -> dict[str, Any]:
    """What was run, on what, by which program, and what each column means."""
    opened = exam.opened
    return {
        "TaskName": opened.protocol,
        "TaskDescription": exam.protocol.settings.about,
        "StimulusPresentation": _presentation(exam),
        "ResearchUseOnly": RESEARCH_ONLY,
        "Caution": CAUTION,
        "JournalSHA256": exam.journal_sha256,
        "ProtocolSHA256": opened.protocol_sha256,
        "Seed": opened.seed,
        "EyesInOrder": list(opened.eyes),
        "Finished": exam.closed is not None and exam.closed.phase == "finished",
        "Simulated": opened.simulated,
        "Button": {"Kind": button_kind(opened.button.name),
                   "Resolution_s": opened.button.resolution_s},
        "Latency_s": opened.latency_s,
        "Display": _display(exam),
        "Reference": {"Name": opened.reference.name, "SHA256": opened.reference.sha256,
                      "People": opened.reference.people,
                      "Synthetic": opened.reference.synthetic},
        "Interruptions": _interruptions(exam),
        "Versions": opened.versions,
        **{column.name: column.described for column in COLUMNS},
    }  # fmt: skip


def _row(trial: Trial, refresh_hz: float) -> list[str]:
    return [_cell(_value(column.name, trial, refresh_hz)) for column in COLUMNS]


def _value(column: str, trial: Trial, refresh_hz: float) -> object:
    if column == "duration":
        return trial.shown.frames_shown / refresh_hz
    if column in _ANSWERS:
        return _of_answer(_ANSWERS[column], trial.answer)
    return getattr(trial.shown, _RENAMED.get(column, column))


def _of_answer(field: str, answer: AnsweredLine | None) -> object:
    return None if answer is None else getattr(answer, field)


def _cell(value: object) -> str:
    if value is None or value == []:
        return NONE
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return " ".join(repr(one) for one in value)
    return repr(value) if isinstance(value, float) else str(value)


def _presentation(exam: ExamRecord) -> dict[str, str]:
    versions = exam.opened.versions
    said = {"OperatingSystem": versions.get("system", "not recorded")}
    if exam.display.simulated:
        said |= {"SoftwareName": "Ripplefield, on a virtual clock without a display",
                 "SoftwareVersion": versions["ripplefield"]}  # fmt: skip
    else:
        said |= {"SoftwareName": "PsychoPy", "SoftwareVersion": versions["psychopy"],
                 "SoftwareRRID": PSYCHOPY_RRID}  # fmt: skip
    return said | {"Code": f"urn:ripplefield:{versions['ripplefield']}"}


def _display(exam: ExamRecord) -> dict[str, Any]:
    shown = exam.display
    return {
        "Calibrated": shown.calibrated,
        "CertificateSHA256": shown.certificate_sha256,
        "Resolution_px": [shown.width_px, shown.height_px],
        "Size_cm": [shown.width_cm, shown.height_cm],
        "Distance_cm": shown.distance_cm,
        "Refresh_Hz": shown.refresh_hz,
        "Locked": shown.display_locked,
        "Flicker_Hz": shown.flicker_hz,
        "FrameHold": shown.frame_hold,
        "PanelResponse": shown.panel_response,
        "MeanLuminance_cd_m2": shown.mean_luminance_cd_m2,
    }


def _interruptions(exam: ExamRecord) -> list[dict[str, Any]]:
    """When the exam was held and went on, seconds from its opening; no words of anybody."""
    kinds = {Held: "held", Resumed: "resumed"}
    return [
        {"onset": entry.t_s, "kind": kinds[type(entry.event)]}
        for entry in exam.entries
        if isinstance(entry.event, Held | Resumed)
    ]
