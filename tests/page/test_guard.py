"""The guard is attacked: other names, other sites, wrong keys, bodies too large."""

import pytest

from optimizer.page.guard import MOST_FORM, POLICY
from tests.page.conftest import EXAMPLES
from tests.page.visit import HERE, ORIGIN, PORT, Visit, house_of, stranger


@pytest.fixture(scope="module")
def visit():
    return Visit(EXAMPLES / "kart_mm")


def test_a_name_bound_to_this_machine_from_outside_is_refused(visit):
    for host in (f"evil.example:{PORT}", "evil.example", "127.0.0.1", f"127.0.0.1:{PORT + 1}", ""):
        answer = visit.client.get("/c/this", headers={"host": host})
        assert answer.status_code == 421
        assert "kart" not in answer.text


def test_two_hosts_are_none(visit):
    answer = visit.client.get("/", headers=[("host", f"127.0.0.1:{PORT}"), ("host", "evil")])
    assert answer.status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": f"https://127.0.0.1:{PORT}"},
        {"origin": f"http://localhost:{PORT}"},
        {"origin": HERE + ".evil.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://evil.example", "sec-fetch-site": "same-origin"},
        {},
    ],
)
def test_a_post_from_another_site_does_nothing(visit, headers):
    answer = visit.client.post("/c/this/match/start", data={"sets": "1"}, headers=headers)
    assert answer.status_code == 403
    assert visit.house.works.of("this") is None


def test_other_methods_are_refused(visit):
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"):
        answer = visit.client.request(method, "/c/this", headers=ORIGIN)
        assert answer.status_code == 405


def test_without_a_key_nobody_sees_anything():
    client = stranger(house_of(EXAMPLES / "kart_mm"))
    for path in ("/", "/c/this", "/c/this/bag", "/news/this", "/phone", "/static/page.js", "/x"):
        answer = client.get(path)
        assert answer.status_code == 403
        assert "kart" not in answer.text
    assert client.post("/new", data={"name": "x"}, headers=ORIGIN).status_code == 403


def test_a_made_up_cookie_opens_nothing():
    house = house_of(EXAMPLES / "kart_mm")
    client = stranger(house)
    for value in ("", "x", house.doors.start_key, house.doors.phone_key, "é", '"'):
        header = f"{house.doors.cookie}={value}".encode()
        answer = client.get("/", headers={b"cookie": header})
        assert answer.status_code == 403


def test_the_cookie_is_kept_from_scripts_and_other_sites():
    house = house_of(EXAMPLES / "kart_mm")
    client = stranger(house)
    answer = client.get(f"/enter?key={house.doors.start_key}")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert house.doors.start_key.lower() not in cookie
    assert answer.headers["location"] == "/"
    assert client.get("/").status_code == 303


def test_the_key_of_this_machine_opens_from_this_machine_alone():
    house = house_of(EXAMPLES / "kart_mm", lan="192.0.2.7")
    far = stranger(house, peer="192.0.2.9")
    assert far.get(f"/enter?key={house.doors.start_key}").status_code == 403
    near = stranger(house)
    assert near.get(f"/enter?key={house.doors.start_key}").status_code == 303


def test_the_key_of_a_phone_opens_once():
    house = house_of(EXAMPLES / "kart_mm", lan="192.0.2.7")
    key = house.doors.phone_key
    first = stranger(house, peer="192.0.2.9")
    assert first.get(f"/enter?key={key}").status_code == 303
    assert stranger(house, peer="192.0.2.10").get(f"/enter?key={key}").status_code == 403
    assert house.doors.phone_key != key
    assert "192.0.2.7" in house.doors.phone


def test_without_a_network_no_key_of_a_phone_opens():
    house = house_of(EXAMPLES / "kart_mm")
    assert house.doors.phone is None
    answer = stranger(house).get(f"/enter?key={house.doors.phone_key}")
    assert answer.status_code == 403


def test_keys_are_compared_in_constant_time(monkeypatch):
    compared = []

    def counting(one, other):
        compared.append((one, other))
        return one == other

    monkeypatch.setattr("optimizer.page.doors.compare_digest", counting)
    house = house_of(EXAMPLES / "kart_mm", lan="192.0.2.7")
    house.doors.sessions[:] = ["a", "b", "c"]
    assert house.doors.known("a")
    assert len(compared) == 3
    assert house.doors.enter("wrong", "127.0.0.1") is None
    assert len(compared) == 5


def test_every_answer_forbids_what_is_not_of_this_server(visit):
    for path in ("/c/this", "/static/page.js", "/nothing", "/c/none"):
        headers = visit.client.get(path).headers
        assert headers["content-security-policy"] == POLICY
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert headers["cache-control"] == "no-store"
    assert "unsafe" not in POLICY
    assert "*" not in POLICY


def test_pages_hold_no_script_or_style_of_their_own(visit):
    for path in ("/c/this", "/c/this/bag", "/c/this/clutch", "/c/this/match"):
        html = visit.client.get(path).text
        assert "<style" not in html
        assert " style=" not in html
        assert " onclick=" not in html
        assert html.count("<script") == 1
        assert "http://" not in html.replace("http://www.w3.org", "")


def test_a_body_that_is_too_large_is_refused_whatever_it_says_of_itself(visit):
    large = b"x=" + b"y" * (MOST_FORM + 1)
    form = {**ORIGIN, "content-type": "application/x-www-form-urlencoded"}
    answer = visit.client.post("/c/this/bag/add", content=large, headers=form)
    assert answer.status_code == 413

    def pieces():
        for at in range(0, len(large), 1000):
            yield large[at : at + 1000]

    answer = visit.client.post("/c/this/bag/add", content=pieces(), headers=form)
    assert answer.status_code == 413
    lying = {**form, "content-length": "-5"}
    assert visit.client.post("/c/this/bag/add", content=b"", headers=lying).status_code == 413


def test_a_form_of_very_many_fields_is_refused(visit):
    body = "&".join(f"f{k}=1" for k in range(2000))
    form = {**ORIGIN, "content-type": "application/x-www-form-urlencoded"}
    answer = visit.client.post("/c/this/bag/add", content=body, headers=form)
    assert answer.status_code == 422
    assert "Traceback" not in answer.text
