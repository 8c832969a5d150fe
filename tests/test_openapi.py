"""The API describes itself, and what it says of itself is true."""

from typing import Any

import pytest
from fastapi.testclient import TestClient


@pytest.fixture
def described(service: TestClient) -> Any:
    return service.get("/api/openapi.json").json()


def operations(described: Any) -> list[tuple[str, str, Any]]:
    return [
        (method, path, operation)
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
    ]


def test_every_operation_has_a_name_a_summary_and_words(described: Any) -> None:
    names = [operation["operationId"] for _, _, operation in operations(described)]
    assert len(names) == len(set(names))
    for method, path, operation in operations(described):
        assert operation.get("summary"), (method, path)
        assert operation.get("description"), (method, path)


def test_every_operation_names_its_refusals_as_problems(described: Any) -> None:
    for method, path, operation in operations(described):
        if path == "/health":
            continue
        for status in ("401", "403"):
            content = operation["responses"][status]["content"]
            assert "application/problem+json" in content, (method, path)


@pytest.mark.parametrize("path", ["/docs", "/redoc", "/openapi.json"])
def test_no_page_loads_scripts_from_elsewhere(service: TestClient, path: str) -> None:
    assert service.get(path).status_code == 404
