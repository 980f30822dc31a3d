"""Does a perimetry file obey the table of its attributes? Own reading of `opv_attributes.csv`.

The table lists PS3.3 A.65 and its modules: type, VR, condition and values of each attribute.
Checked here are presence, content, conditions both ways, VRs, listed values, context groups, the
number of items, and that nothing else is in the file. Conditions in plain words are left to a
person.
"""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import NamedTuple

from pydicom.datadict import keyword_for_tag
from pydicom.dataelem import DataElement
from pydicom.dataset import Dataset
from pydicom.sr.codedict import codes

TABLE = Path(__file__).with_name("opv_attributes.csv")
SINGLE = {
    "ScreeningTestModeCodeSequence", "StimulusColorCodeSequence", "ConceptNameCodeSequence",
    "BackgroundIlluminationColorCodeSequence", "FixationMonitoringCodeSequence",
    "ConceptCodeSequence", "VisualFieldCatchTrialSequence", "AlgorithmFamilyCodeSequence",
    "TestPointNormalsSequence",
}  # fmt: skip
BESIDES = {
    "PatientAge", "StudyDescription", "SeriesDescription", "InstanceNumber",
    "TimezoneOffsetFromUTC",
}  # fmt: skip
"""Optional attributes of general modules that the table leaves out (types 3 of PS3.3)."""


class Rule(NamedTuple):
    module: str
    usage: str
    keyword: str
    tag: str
    vr: str
    type: str
    parent: str
    condition: str
    values: str
    unit: str


@cache
def rules() -> dict[str, list[Rule]]:
    """Rules by the sequence they belong to; where two modules speak, both count."""
    found: dict[str, list[Rule]] = defaultdict(list)
    with TABLE.open(newline="", encoding="utf-8") as file:
        reader = csv.reader(file)
        assert [name.lower() for name in next(reader)] == list(Rule._fields)
        for rule in map(Rule._make, reader):
            found[rule.parent].append(rule)
    return dict(found)


def problems(root: Dataset) -> list[str]:
    """What is wrong with a file, each in one line; empty if nothing is."""
    return [*_level([root], ""), *_vrs(root)]


def _level(chain: list[Dataset], parent: str) -> list[str]:
    here, found = chain[-1], []
    known = {rule.keyword for rule in rules().get(parent, [])}
    for rule in rules().get(parent, []):
        if not _skipped(rule, chain):
            found += _one(rule, chain)
    for element in here:
        if known and element.keyword not in known | (set() if parent else BESIDES):
            found.append(f"{element.keyword}: not in the table under {parent or 'the root'}")
        if element.VR == "SQ":
            for item in element.value:
                found += _level([*chain, item], element.keyword)
    return found


def _skipped(rule: Rule, chain: list[Dataset]) -> bool:
    """A module that may be left out counts only where one of its attributes is there."""
    if rule.usage == "M" or rule.parent:
        return False
    own = {r.keyword for r in rules()[""] if r.module == rule.module}
    others = {r.keyword for r in rules()[""] if r.usage == "M"}
    return not any(keyword in chain[0] for keyword in own - others) and "Lens" not in rule.module


def _one(rule: Rule, chain: list[Dataset]) -> list[str]:
    element = next((one for one in chain[-1] if one.keyword == rule.keyword), None)
    wanted = _wanted(rule, chain)
    if element is None:
        return [f"{rule.keyword}: missing, type {rule.type}"] if wanted else []
    found = []
    if wanted is False and rule.condition.endswith("else absent"):
        found.append(f"{rule.keyword}: must be absent ({rule.condition})")
    if rule.type in ("1", "1C") and _empty(element):
        found.append(f"{rule.keyword}: empty, type {rule.type}")
    if element.VR not in rule.vr.split(" or "):
        found.append(f"{rule.keyword}: VR {element.VR}, not {rule.vr}")
    return found + _values(rule, element)


def _empty(element: DataElement) -> bool:
    if element.VR == "SQ":
        return len(element.value) == 0
    return element.is_empty or not str(element.value).strip()


def _wanted(rule: Rule, chain: list[Dataset]) -> bool | None:
    """Whether it must be there; None where it may be, or where only words say."""
    if not rule.type.endswith("C"):
        return rule.type != "3" or None
    stated = re.fullmatch(r"Required if (?P<terms>[^;]+)(;.*)?", rule.condition)
    if stated is None:
        return None
    terms = stated["terms"]
    if " or " in terms:
        return any(_true(term, chain) for term in terms.split(" or "))
    return all(_true(term, chain) for term in terms.split(" and "))


def _true(term: str, chain: list[Dataset]) -> bool:
    if match := re.fullmatch(r"(\w+) (present|absent)", term):
        return (match[1] in chain[-1]) == (match[2] == "present")
    if match := re.fullmatch(r"(\w+)=(\S+)", term):
        holder = next((one for one in reversed(chain) if match[1] in one), None)
        return holder is not None and str(holder[match[1]].value) in match[2].split("|")
    match = re.fullmatch(r"(\S+) has (\S+)", term)
    assert match is not None, f"no reading of {term!r}"
    wanted = {tuple(one.split("^")) for one in match[2].split("|")}
    return bool(wanted & _codes_below(match[1].split("/"), chain))


def _codes_below(path: list[str], chain: list[Dataset]) -> set[tuple[str, ...]]:
    """Codes at any depth under a path of sequences, from this item or else from the root."""
    level = [chain[-1] if path[0] in chain[-1] else chain[0]]
    for keyword in path:
        level = [item for one in level for item in _items(one, keyword)]
    below = [element for one in level for element in one.iterall() if element.VR == "SQ"]
    items = [*level, *(item for element in below for item in element.value)]
    return {code for item in items for code in _coded(item)}


def _coded(item: Dataset) -> list[tuple[str, ...]]:
    if "CodeValue" not in item:
        return []
    return [(str(item.CodeValue), str(item.CodingSchemeDesignator))]


def _items(one: Dataset, keyword: str) -> list[Dataset]:
    found = [element for element in one.iterall() if element.keyword == keyword]
    return [item for element in found for item in element.value]


def _values(rule: Rule, element: DataElement) -> list[str]:
    kind, _, listed = rule.values.partition(": ")
    if element.VR == "SQ":
        return _items_right(rule, element)
    if kind not in ("enum", "defined") or _empty(element):
        return []
    if str(element.value) in listed.split("|"):
        return []
    return [f"{rule.keyword}: {element.value!r} is not one of {listed}"]


def _items_right(rule: Rule, element: DataElement) -> list[str]:
    found = []
    if rule.keyword in SINGLE and len(element.value) != 1:
        found.append(f"{rule.keyword}: {len(element.value)} items, not one")
    group = re.fullmatch(r"codes of CID (\d+)", rule.values)
    if group:
        listed = getattr(codes, f"CID{group[1]}").concepts.values()
        allowed = {(code.value, code.scheme_designator) for code in listed}
        strange = [one for item in element.value for one in _coded(item) if one not in allowed]
        found += [f"{rule.keyword}: {one} is not in CID {group[1]}" for one in strange]
    return found


def _vrs(root: Dataset) -> list[str]:
    """Lengths, signs and text that break the rules of their VR (PS3.5 6.2)."""
    found = []
    for element in root.iterall():
        name, value = keyword_for_tag(element.tag), element.value
        longest = {"LO": 64, "SH": 16, "CS": 16, "ST": 1024, "LT": 10240, "UI": 64}.get(element.VR)
        if longest and len(str(value or "")) > longest:
            found.append(f"{name}: longer than {longest} characters")
        if element.VR in ("LO", "SH") and re.search(r"[\\\x00-\x1f]", str(value)):
            found.append(f"{name}: backslash or control character")
        if element.VR in ("FL", "FD") and value is not None and value != value:
            found.append(f"{name}: not a number")
        if element.VR == "US" and not 0 <= value <= 65535:
            found.append(f"{name}: {value} does not fit")
    return found
