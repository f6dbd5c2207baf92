"""The OpenAPI document against the specification's own schema."""

import json

from openapi_spec_validator import validate


def test_the_document_is_valid_openapi(service):
    document = json.loads(service.get("/openapi.json"))
    assert document["openapi"] == "3.1.0"
    validate(document)
