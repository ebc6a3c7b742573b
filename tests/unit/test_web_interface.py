"""The description of the interface says all there is, and nothing else."""

import pytest
import schemathesis
from fastapi.routing import APIRoute

from solidcopy.web.app import ROUTERS, bare_app

ROUTES = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
PROBLEM = {"$ref": "#/components/schemas/Problem"}


@pytest.fixture(scope="module")
def description():
    return bare_app().openapi()


def operations(description):
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            yield f"{method.upper()} {path}", operation


def test_all_paths_of_the_interface_are_described_and_no_page_is():
    assert len(ROUTES) > 10
    for route in ROUTES:
        is_interface = route.path.startswith("/api/")
        assert route.include_in_schema == is_interface, route.path
        assert is_interface or route.methods == {"GET"}, f"{route.path}: a page changes nothing"
        assert (route.endpoint.__doc__ or "").strip(), f"{route.path} has no docstring"


@pytest.mark.authority
def test_it_keeps_the_grammar_of_its_standard(description):
    # OpenAPI 3.1, by the meta-schema that comes with schemathesis.
    schemathesis.openapi.from_dict(description).validate()


def test_each_path_says_what_it_does_by_subject(description):
    names = set()
    for title, operation in operations(description):
        assert operation["description"].strip(), title
        assert len(operation["tags"]) == 1, title
        names.add(operation["operationId"])
    assert len(names) == sum(1 for _ in operations(description))


def test_every_refusal_has_the_one_shape(description):
    for title, operation in operations(description):
        refusals = {s: a for s, a in operation["responses"].items() if s >= "400"}
        assert set(refusals) >= {"400", "401", "403", "404", "408", "409", "413", "422"}, title
        for status, answer in refusals.items():
            assert answer["content"] == {"application/json": {"schema": PROBLEM}}, (title, status)


def test_every_shape_says_what_it_is(description):
    for name, shape in description["components"]["schemas"].items():
        assert "__" not in name, f"two classes share a name: {name}"
        is_told = shape.get("description", "").strip()
        assert is_told or "properties" not in shape, f"{name} has no docstring"
