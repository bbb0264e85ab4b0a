"""The OpenAPI document: valid, complete, with examples that fit, and open to all."""

from __future__ import annotations

import jsonschema
import pytest
from django.test import Client
from openapi_spec_validator import OpenAPIV31SpecValidator

from api import urls
from api.protocol import requests as doors
from api.protocol.examples import EXAMPLES
from recycling.stages import STAGES
from tests.api.conftest import BASE, check_schema, schema, sorting


@pytest.mark.slow
def test_the_document_is_valid_openapi_3_1(db):
    """Checked with the specification's own schema, as openapi-spec-validator carries it."""
    assert schema()["openapi"].startswith("3.1")
    assert not list(OpenAPIV31SpecValidator(schema()).iter_errors())


def test_anyone_may_read_it(db):
    response = Client().get(f"{BASE}/schema/")
    assert response.status_code == 200 and response["Content-Type"] == "application/json"


def operations() -> list[tuple[str, str, dict]]:
    return [
        (path, method, operation)
        for path, item in schema()["paths"].items()
        for method, operation in item.items()
    ]


def test_every_door_and_method_is_described(db):
    wanted = {
        (
            BASE
            + "/"
            + str(pattern.pattern).replace("<str:", "{").replace("<int:", "{").replace(">", "}"),
            method.lower(),
        )
        for pattern in urls.urlpatterns
        if issubclass(pattern.callback.cls, doors.Door)
        for method in pattern.callback.cls.needs
    }
    assert {(path, method) for path, method, _ in operations()} == wanted


def test_operations_have_names_of_their_own_and_say_what_they_do(db):
    names = [operation["operationId"] for _, _, operation in operations()]
    assert len(names) == len(set(names))
    assert all(operation["description"].endswith(".") for _, _, operation in operations())
    assert all(operation["security"] for _, _, operation in operations())


def test_every_post_asks_for_a_key_and_every_operation_names_its_refusals(db):
    for path, method, operation in operations():
        headers = {one["name"] for one in operation.get("parameters", []) if one["in"] == "header"}
        assert ("Idempotency-Key" in headers) == (method in ("post", "patch")), path
        assert {"401", "403", "404", "422", "503"} <= set(operation["responses"])
        for status, response in operation["responses"].items():
            if status >= "400":
                assert set(response["content"]) == {"application/problem+json"}


def test_every_field_is_explained(db):
    bare = [
        f"{name}.{field}"
        for name, shape in schema()["components"]["schemas"].items()
        for field, part in shape.get("properties", {}).items()
        if not part.get("description")
    ]
    assert not bare


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_fit_their_shape(db, name):
    shape = name if name in schema()["components"]["schemas"] else f"Patched{name}"
    for body in EXAMPLES[name].values():
        check_schema({"$ref": f"#/components/schemas/{shape}"}, body)


def test_every_kind_of_body_has_an_example(db):
    bodies = {
        operation["requestBody"]["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
        for _, method, operation in operations()
        if method in ("post", "patch")
    }
    single = {body.removesuffix("OrSeveral").removeprefix("Patched") for body in bodies}
    assert single - set(EXAMPLES) == {"NothingBody"}


def test_the_shape_of_a_run_refuses_what_the_door_refuses(shop, api):
    for body in (
        sorting(shop, colour="red"),
        sorting(shop, stage="knead"),
        sorting(shop, started_at=5),
        sorting(shop, inputs=[{"mass_mg": 5}]),
        sorting(shop, outputs=[{"form": "caps", "polymer": "HDPE"}]),
        sorting(shop, outputs=[{"form": "caps", "mass_mg": 1.5}]),
    ):
        with pytest.raises(jsonschema.ValidationError):
            check_schema({"$ref": "#/components/schemas/RunBody"}, body)
        api.post("/runs/", body, status=422)


def test_stages_and_forms_come_from_the_declarations(db):
    assert schema()["components"]["schemas"]["StageEnum"]["enum"] == [s.key for s in STAGES]
