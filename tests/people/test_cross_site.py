"""Another site's page cannot write with a person's cookie, nor sign a browser in."""

import pytest

#: What is asked here is the same on either engine.
pytestmark = pytest.mark.sqlite_only

FORM = "application/x-www-form-urlencoded"
BODY = b'{"name": "printer"}'


@pytest.fixture
def ilva(house):
    house.add("ilva")
    client = house.signed_in("ilva")
    del client.headers["Origin"]
    return client


def own(house) -> dict[str, str]:
    return {"Origin": f"http://{house.host}", "Content-Type": "application/json"}


def test_a_write_from_the_services_own_page_is_taken(house, ilva):
    for headers in (
        own(house),
        {"Sec-Fetch-Site": "same-origin", "Content-Type": "application/json"},
        own(house) | {"Sec-Fetch-Site": "same-origin"},
        own(house) | {"Content-Type": "application/json; charset=utf-8"},
    ):
        assert ilva.post("/api/tokens", content=BODY, headers=headers).status_code == 201


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Origin": "http://{host}.elsewhere.example"},
        {"Origin": "http://elsewhere.example/{host}"},
        {"Origin": "http://{host}@elsewhere.example"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "http://{host}", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "https://elsewhere.example", "Sec-Fetch-Site": "same-origin"},
    ],
)
@pytest.mark.parametrize(("method", "path"), [("POST", "/api/tokens"), ("DELETE", "/api/session")])
def test_a_write_that_another_page_may_have_sent_is_refused(house, ilva, headers, method, path):
    sent = {name: value.format(host=house.host) for name, value in headers.items()}
    sent["Content-Type"] = "application/json"
    answer = ilva.request(method, path, content=BODY, headers=sent)
    assert (answer.status_code, answer.json()["code"]) == (403, "cross-site")
    assert house.rows("tokens") == []
    assert ilva.get("/api/session").status_code == 200


@pytest.mark.parametrize(
    "kind", [FORM, "text/plain", "text/plain;charset=UTF-8", "multipart/form-data; boundary=x", ""]
)
def test_a_body_that_a_form_could_send_is_refused_even_from_here(house, ilva, kind):
    answer = ilva.post("/api/tokens", content=BODY, headers=own(house) | {"Content-Type": kind})
    assert (answer.status_code, answer.json()["code"]) == (403, "json-needed")
    assert house.rows("tokens") == []


def test_a_body_without_a_kind_is_refused(house, ilva):
    for content in (BODY, iter([BODY])):  # with a length, and in chunks
        headers = {"Origin": f"http://{house.host}"}
        answer = ilva.post("/api/tokens", content=content, headers=headers)
        assert (answer.status_code, answer.json()["code"]) == (403, "json-needed")


@pytest.mark.parametrize(
    ("headers", "code"),
    [
        ({"Origin": "https://elsewhere.example"}, "cross-site"),
        ({"Sec-Fetch-Site": "cross-site"}, "cross-site"),
        ({"Content-Type": FORM}, "json-needed"),
        ({"Content-Type": "text/plain"}, "json-needed"),
    ],
)
def test_another_page_cannot_sign_a_browser_in(house, headers, code):
    house.add("ilva")
    sent = {"Content-Type": "application/json"} | headers
    answer = house.client({}).post(
        "/api/session",
        content=b'{"username": "ilva", "password": "seven grey geese over the fjord"}',
        headers=sent,
    )
    assert (answer.status_code, answer.json()["code"]) == (403, code)
    assert "set-cookie" not in answer.headers
    assert house.rows("sign_in_tries") == []


def test_a_program_signs_in_without_naming_an_origin(house):
    house.add("ilva")
    assert house.sign_in(house.client({}), "ilva").status_code == 204


def test_a_token_beside_a_cookie_is_what_counts(house, ilva):
    made = ilva.post("/api/tokens", content=BODY, headers=own(house)).json()
    foreign = {
        "Origin": "https://elsewhere.example",
        "Content-Type": "application/json",
        "Authorization": f"bearer {made['token']}",
    }
    assert ilva.post("/api/tokens", content=BODY, headers=foreign).status_code == 201
    foreign["Authorization"] = "Bearer invented"
    assert ilva.post("/api/tokens", content=BODY, headers=foreign).status_code == 401
    foreign["Authorization"] = "Basic aWx2YTp4"
    assert ilva.post("/api/tokens", content=BODY, headers=foreign).status_code == 403


@pytest.mark.parametrize("kind", ["image/jpeg", "image/png", "image/webp"])
def test_a_picture_is_taken_from_our_own_pages_alone(house, ilva, kind):
    """No form can send that kind of body, so a browser asks first, and says who sends it."""

    def answered(**headers: str):
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        answer = ilva.post("/api/scan/picture", content=b"none", headers=sent)
        return answer.status_code, answer.json()["code"]

    assert answered(Content_Type=kind) == (403, "cross-site")
    assert answered(Content_Type=kind, Origin="https://elsewhere.example") == (403, "cross-site")
    assert answered(Content_Type=kind, Sec_Fetch_Site="same-site") == (403, "cross-site")
    here = {"Origin": f"http://{house.host}", "Sec_Fetch_Site": "same-origin"}
    assert answered(**here, Content_Type=kind) == (422, "not-a-picture")
    assert answered(**here, Content_Type="image/gif") == (415, "other-picture")
    assert answered(**here, Content_Type="text/plain") == (403, "json-needed")
    assert answered(**here) == (403, "json-needed")
