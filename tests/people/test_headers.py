"""Every answer, errors and files included, tells the browser to load nothing from elsewhere."""

import pytest

#: What is asked here is the same on either engine.
pytestmark = pytest.mark.sqlite_only

POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "connect-src": "'self'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
    "base-uri": "'none'",
    "object-src": "'none'",
}


def ask(house, method: str, path: str, **options):
    house.add("ilva")
    return house.signed_in("ilva").request(method, path, **options)


@pytest.mark.parametrize(
    ("status", "method", "path", "options"),
    [
        (200, "GET", "/api/session", {}),
        (200, "GET", "/api/openapi.json", {}),
        (200, "GET", "/health", {}),
        (200, "GET", "/", {}),
        (204, "DELETE", "/api/session", {}),
        (403, "POST", "/api/people", {"json": {}}),
        (404, "GET", "/api/nowhere", {}),
        (404, "GET", "/web/nowhere.js", {}),
        (404, "GET", "/api/people/01937c5e-8a00-7000-8000-000000000001", {}),
        (405, "PUT", "/api/session", {"json": {}}),
        (413, "POST", "/api/tokens", {"json": {"name": "x" * 10_000_000}}),
        (413, "POST", "/api/tokens", {
            "content": iter([b"x" * 500_000] * 3), "headers": {"Content-Type": "application/json"},
        }),
        (422, "POST", "/api/tokens", {"json": {}}),
        (422, "POST", "/api/tokens", {
            "content": b"{", "headers": {"Content-Type": "application/json"},
        }),
        (500, "GET", "/breaks", {}),
    ],
)  # fmt: skip
def test_every_answer_carries_the_headers(house, status, method, path, options):
    answer = ask(house, method, path, **options)
    assert answer.status_code == status, answer.text
    sent = answer.headers
    policy = dict(part.strip().split(" ", 1) for part in sent["content-security-policy"].split(";"))
    assert POLICY.items() <= policy.items()
    assert "unsafe" not in sent["content-security-policy"]
    assert "http" not in sent["content-security-policy"]
    assert sent["x-content-type-options"] == "nosniff"
    assert sent["referrer-policy"] == "no-referrer"
    assert sent["cross-origin-opener-policy"] == "same-origin"
    assert sent["x-frame-options"] == "DENY"
    if not path.startswith("/web/"):
        assert sent["cache-control"] == "no-store"
    if status >= 400:
        assert sent["content-type"] == "application/problem+json"
        assert {"type", "title", "status", "detail", "code"} <= answer.json().keys()
        assert answer.json()["status"] == status


def test_a_failure_tells_nothing_of_the_inside(house):
    answer = ask(house, "GET", "/breaks")
    assert answer.status_code == 500
    for inside in ("secret", "/var/lib", "RuntimeError", "Traceback", ".py"):
        assert inside not in answer.text


def test_nobody_learns_what_is_there_before_signing_in(house):
    answer = house.browser().get("/api/people/01937c5e-8a00-7000-8000-000000000001")
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"
