"""HL7 FHIR R4: one Observation an eye, a small valid subset, status preliminary."""
