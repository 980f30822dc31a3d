"""An eye's result as a FHIR R4 Observation."""

from __future__ import annotations

import html
from typing import Any

from analysis.export.deviation import Deviation, eye_deviation
from analysis.export.shared import CAUTION, is_screening, stable_uuid
from analysis.report.exam import Shown
from analysis.result import EyeResult
from protocols import RESEARCH_ONLY
from protocols.events import Presented
from protocols.field import Eye

SNOMED = "http://snomed.info/sct"
UCUM = "http://unitsofmeasure.org"
TERMINOLOGY = "http://terminology.hl7.org/CodeSystem"
PARTICIPANT = "urn:ripplefield:participant"

EYES = {"right": ("18944008", "Right eye structure"), "left": ("8966001", "Left eye structure")}
MEAN_DEVIATION = ("422859007", "Mean deviation")
PATTERN_DEVIATION = ("421362004", "Pattern standard deviation")
DURATION = ("252129004", "Duration")


def observation(shown: Shown, eye: Eye, found: EyeResult) -> dict[str, Any]:
    """The Observation of an eye in which something was shown."""
    exam = shown.result.exam
    return {
        "resourceType": "Observation",
        "id": str(stable_uuid("fhir", shown.result.journal_sha256, eye)),
        "meta": {"security": [_security(exam.simulated)]},
        "text": _narrative(found),
        "status": "preliminary",
        "category": [{"coding": [_coding(f"{TERMINOLOGY}/observation-category", "exam", "Exam")]}],
        "code": {
            "coding": [_snomed("103752008", "Perimetry")],
            "text": "Research perimetry with flickering gratings; values are contrast dB",
        },
        "subject": {
            "type": "Patient",
            "identifier": {"system": PARTICIPANT, "value": exam.participant},
        },
        "effectivePeriod": _period(shown, eye),
        "note": [{"text": text} for text in _notes(shown, found)],
        "bodySite": {"coding": [_snomed(*EYES[eye])]},
        "device": {"display": f"Ripplefield {shown.result.versions['ripplefield']}"},
        "component": _components(shown, found),
    }


def _security(simulated: bool) -> dict[str, str]:
    if simulated:
        return _coding(f"{TERMINOLOGY}/v3-ActReason", "HTEST", "test health data")
    return _coding(f"{TERMINOLOGY}/v3-ActReason", "HRESCH", "healthcare research")


def _narrative(found: EyeResult) -> dict[str, str]:
    texts = (RESEARCH_ONLY, CAUTION, found.sentence, found.next_step)
    said = "".join(f"<p>{html.escape(text)}</p>" for text in texts)
    return {"status": "generated", "div": f'<div xmlns="http://www.w3.org/1999/xhtml">{said}</div>'}


def _period(shown: Shown, eye: Eye) -> dict[str, str]:
    times = [
        entry.utc
        for entry in shown.record.entries
        if isinstance(entry.event, Presented) and entry.event.eye == eye
    ]
    return {"start": min(times), "end": max(times)}


def _notes(shown: Shown, found: EyeResult) -> list[str]:
    result = shown.result
    notes = [RESEARCH_ONLY, CAUTION, found.sentence, found.next_step]
    notes.append(f"Age {result.exam.age_years} years.")
    notes += [result.reference.notice] if result.reference.notice else []
    notes += [] if result.display.calibrated else ["Uncalibrated display."]
    notes += ["A simulated participant answered."] if result.exam.simulated else []
    unseen = sum(place.estimate_db is not None and not place.seen for place in found.places)
    if unseen:
        notes.append(f"{unseen} places not seen at full contrast count as if seen just there.")
    return notes


def _components(shown: Shown, found: EyeResult) -> list[dict[str, Any]]:
    screening = is_screening(shown.record)
    deviation = None if screening else eye_deviation(found)
    return [
        _component(MEAN_DEVIATION, _mean_db(deviation), "dB", screening),
        _component(PATTERN_DEVIATION, _pattern_db(deviation), "dB", screening),
        _component(DURATION, found.seconds, "s", screening),
    ]


def _mean_db(deviation: Deviation | None) -> float | None:
    return None if deviation is None else round(deviation.mean_db, 4)


def _pattern_db(deviation: Deviation | None) -> float | None:
    return None if deviation is None else round(deviation.pattern_db, 4)


def _component(
    code: tuple[str, str], value: float | None, unit: str, screening: bool
) -> dict[str, Any]:
    made: dict[str, Any] = {"code": {"coding": [_snomed(*code)]}}
    if value is None:
        return made | {"dataAbsentReason": _absent(screening)}
    return made | {
        "valueQuantity": {"value": value, "unit": unit, "system": UCUM, "code": unit}
    }


def _absent(screening: bool) -> dict[str, Any]:
    system = f"{TERMINOLOGY}/data-absent-reason"
    if screening:
        coding = _coding(system, "not-applicable", "Not Applicable")
        return {"coding": [coding], "text": "Screening measures no thresholds."}
    coding = _coding(system, "unknown", "Unknown")
    return {"coding": [coding], "text": "Not all places were tested to the end."}


def _coding(system: str, code: str, display: str) -> dict[str, str]:
    return {"system": system, "code": code, "display": display}


def _snomed(code: str, display: str) -> dict[str, str]:
    return _coding(SNOMED, code, display)
