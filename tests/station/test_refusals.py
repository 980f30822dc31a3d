"""What the station refuses: wrong links, other sites, names that lead elsewhere, floods.

OWASP's lists are the outside truth: cross-site request forgery, path traversal, CSV injection,
stored scripts, slow requests (OWASP Cheat Sheet Series; CSV Injection page).
"""

from __future__ import annotations

import contextlib
import csv
import http.client
import io
import os
import shutil
import socket
import statistics
import time

import httpx
import pytest
from station_rig import Running, prepare, station

from protocols.errors import InputError
from stimulus.station.guard import BODY_PATIENCE_S, LARGEST_BODY
from stimulus.station.queue_csv import safe_csv
from stimulus.station.serve import Door
from stimulus.station.slow import HEAD_PATIENCE_S

PAGES = ("/queue", "/checks", "/say", "/live", "/results", "/day", "/settings", "/day.csv",
         "/queue.csv", "/live/events", "/live/state")  # fmt: skip


def host(running: Running) -> tuple[str, int]:
    name, port = running.address.removeprefix("http://").split(":")
    return name, int(port)


@pytest.mark.parametrize("path", PAGES)
def test_without_a_session_nothing_is_shown(running, path):
    found = httpx.get(running.address + path)
    assert found.status_code == 403
    assert "link" in found.text


@pytest.mark.parametrize("token", ["", "x", "0" * 43, "%00", "../../etc/passwd"])
def test_a_wrong_token_opens_nothing(running, token):
    found = httpx.get(f"{running.address}/open", params={"token": token})
    assert found.status_code == 403
    assert "set-cookie" not in found.headers


def test_a_link_opens_once_and_then_another_is_printed(running):
    link = running.link
    first = httpx.get(link)
    assert first.status_code == 303
    cookie = first.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert httpx.get(link).status_code == 403
    assert running.link != link


def test_a_made_up_cookie_is_no_session(running):
    port = host(running)[1]
    cookies = {f"ripplefield_station_{port}": "A" * 43}
    assert httpx.get(running.address + "/queue", cookies=cookies).status_code == 403


@pytest.mark.parametrize(
    "origin", ["http://example.org", "null", "http://127.0.0.1:1", "https://{host}", ""]
)
def test_another_origin_can_neither_send_nor_listen(running, origin):
    client = running.client()
    headers = {"origin": origin.format(host=running.address.removeprefix("http://"))}
    sent = client.post("/queue/add", data={"code": "P-9"}, headers=headers)
    assert sent.status_code == 403
    assert client.get("/live/events", headers=headers).status_code == 403
    assert "P-9" not in client.get("/queue").text


def test_a_form_without_any_origin_is_refused(running):
    client = running.client()
    del client.headers["origin"]
    assert client.post("/queue/add", data={"code": "P-9"}).status_code == 403
    for site in ("cross-site", "same-site"):
        headers = {"sec-fetch-site": site, "sec-fetch-mode": "cors"}
        assert client.get("/live/events", headers=headers).status_code == 403


def test_a_page_of_ours_cannot_be_framed(running):
    client = running.client()
    framed = {"sec-fetch-mode": "navigate", "sec-fetch-dest": "iframe"}
    assert client.get("/queue", headers=framed).status_code == 403
    policy = client.get("/queue").headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy


@pytest.mark.parametrize("name", ["evil.example", "127.0.0.1", "localhost:1", ""])
def test_another_host_name_is_refused(running, name):
    """A name that an attacker points at this machine (DNS rebinding) is not ours."""
    connection = http.client.HTTPConnection(*host(running), timeout=5)
    connection.putrequest("GET", "/queue", skip_host=True)
    connection.putheader("Host", name)
    connection.endheaders()
    assert connection.getresponse().status in (400, 421)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static//etc/passwd",
        "/results/..", "/results/%2e%2e", "/results/..%2f..%2fetc", "/results/.ssh",
        "/results/P-1%00", "/day?date=../../x", "/say?language=../../etc/passwd",
        f"/results/{'a' * 300}", f"/results/{'%C3%A9' * 200}",
    ],
)  # fmt: skip
def test_names_that_lead_elsewhere_lead_nowhere(running, path):
    connection = http.client.HTTPConnection(*host(running), timeout=5)
    client = running.client()
    cookie = "; ".join(f"{one.name}={one.value}" for one in client.cookies.jar)
    connection.request("GET", path, headers={"Cookie": cookie})
    answer = connection.getresponse()
    text = answer.read().decode()
    assert answer.status in (404, 303)
    assert "root:" not in text
    assert "import" not in text


@pytest.mark.parametrize("code", ["../../etc-1", "P/../1", "a\\1", "P-1\0", ".ssh1", "P 1", "%2e1"])
def test_a_code_is_never_a_path(running, code):
    client = running.client()
    added = client.post(
        "/queue/add",
        data={"code": code, "age": "40", "glasses": "no", "eyes": "both", "flicker": "no",
              "language": "en"},
    )  # fmt: skip
    assert added.status_code == 422
    assert "allowed" in added.text
    assert not list(running.data.parent.rglob("etc-1*"))


@pytest.mark.parametrize("exam", ["../..", "..", "/etc", "x/y", "nobody-1", "a" * 300])
def test_forms_that_name_an_exam_take_recorded_ones_only(running, exam):
    client = running.client()
    for path in ("/queue/go-on", "/results/correct"):
        client.post(path, data={"exam": exam, "what": "code", "code": "P-7", "by": "AB"})
        assert "Not done." in client.get("/queue").text


@pytest.mark.parametrize("path", ["/open", "/press/door", "/queue/add", "/queue/csv"])
@pytest.mark.parametrize("kind", ["application/json", "application/x-www-form-urlencoded"])
def test_a_body_that_is_no_form_is_refused_in_words(running, path, kind):
    with_session = running.client()
    without = httpx.Client(base_url=running.address, headers={"origin": running.address})
    for client in (with_session, without) if path in ("/open", "/press/door") else (with_session,):
        found = client.post(path, content=b"{}", headers={"content-type": kind})
        assert found.status_code in (303, 422)
        assert found.status_code == 303 or "Use the station" in found.text
    assert "Traceback" not in running.log.read_text()


def test_a_date_that_is_none_is_refused_in_the_table_too(running):
    found = running.client().get("/day.csv", params={"date": "../../x"})
    assert found.status_code == 422
    assert "allowed: a date such as 2030-01-15" in found.text


def test_a_folder_whose_name_is_no_text_takes_no_page_down(running):
    odd = running.data / "exams" / os.fsdecode(b"b\xff-1")
    odd.mkdir()
    (odd / "journal.jsonl").write_bytes(b"")
    try:
        for path in ("/results", "/day?date=all", "/day.csv?date=all"):
            found = running.client().get(path)
            assert found.status_code == 200
            assert "b?-1" in found.text
    finally:
        shutil.rmtree(odd)


def test_markup_in_what_is_typed_stays_text(running):
    client = running.client()
    evil = "<script>alert(1)</script>\"><img src=x onerror=alert(1)>"
    added = client.post("/queue/add", data={"code": evil, "age": evil})
    assert added.status_code == 422
    assert "<script>alert" not in added.text
    assert "<img" not in added.text
    listed = client.post("/queue/csv", data={"csv": f"code,age\n{evil},1"})
    assert listed.status_code == 422
    assert "<script>alert" not in listed.text
    client.post("/queue/change", data={"entry": evil, "do": evil})
    assert "<img" not in client.get("/queue").text


def test_no_cell_of_an_export_is_a_formula():
    text = safe_csv(["a"], [["=1+1"], ["+1"], ["-1"], ["@x"], ["\t=1"], ["  =1"], [-3.5], ["P-1"]])
    cells = [row[0] for row in csv.reader(io.StringIO(text))][1:]
    assert [cell for cell in cells if cell[:1] in "=+-@\t\r"] == ["-3.5"]
    assert cells[-1] == "P-1"


def test_ten_megabytes_are_refused_and_cost_nothing(running):
    client = running.client(timeout=20)
    start = time.monotonic()
    with contextlib.suppress(httpx.TransportError):  # the door may be shut while it is being sent
        assert client.post("/queue/csv", data={"csv": "x" * 10_000_000}).status_code == 413
    assert time.monotonic() - start < 5
    assert client.get("/queue").status_code == 200

    def _unannounced():
        for _ in range(200):
            yield b"x" * 65536

    kind = {"content-type": "application/x-www-form-urlencoded"}
    with contextlib.suppress(httpx.TransportError):
        told = client.post("/queue/csv", content=_unannounced(), headers=kind)
        assert told.status_code == 413
    assert client.get("/queue").status_code == 200


def test_a_thousand_idle_connections_and_a_dripping_one_keep_nobody_out(running):
    client = running.client()
    idle = [socket.create_connection(host(running)) for _ in range(1000)]
    slow = _dripping(running, client)
    try:
        for one in idle[:100]:
            one.sendall(b"GET / HT")
        times_s = []
        for _ in range(20):
            start = time.perf_counter()
            assert client.get("/queue").status_code == 200
            times_s.append(time.perf_counter() - start)
        print(f"a page beside 1,000 connections: middle {1000 * statistics.median(times_s):.1f} ms")
        for one, patience_s in ((idle[0], HEAD_PATIENCE_S), (idle[-1], HEAD_PATIENCE_S)):
            one.settimeout(patience_s + 5)
            assert one.recv(10) == b""  # given up, not kept
        slow.settimeout(BODY_PATIENCE_S + 5)
        assert b"408" in slow.recv(200)
    finally:
        for one in (*idle, slow):
            one.close()
    assert client.get("/queue").status_code == 200


def _dripping(running: Running, client: httpx.Client) -> socket.socket:
    """A form whose body never comes to its end."""
    cookie = "; ".join(f"{one.name}={one.value}" for one in client.cookies.jar)
    head = (
        f"POST /queue/add HTTP/1.1\r\nHost: {running.address.removeprefix('http://')}\r\n"
        f"Origin: {running.address}\r\nCookie: {cookie}\r\nContent-Length: 1000\r\n\r\nco"
    )
    slow = socket.create_connection(host(running))
    slow.sendall(head.encode())
    return slow


def test_more_than_the_largest_body_is_said_in_words(running):
    client = running.client()
    connection = http.client.HTTPConnection(*host(running), timeout=5)
    connection.putrequest("POST", "/queue/add")
    connection.putheader("Origin", running.address)
    connection.putheader("Cookie", "; ".join(f"{c.name}={c.value}" for c in client.cookies.jar))
    connection.putheader("Content-Length", str(LARGEST_BODY + 1))
    connection.endheaders()
    answer = connection.getresponse()
    assert answer.status == 413
    assert answer.read().startswith(b"Too large")


def test_the_network_needs_tls_and_a_pass_phrase(tmp_path):
    with pytest.raises(InputError, match="--tls-cert"):
        Door("192.168.1.20")
    pem = tmp_path / "x.pem"
    pem.write_text("x")
    with pytest.raises(InputError, match="at least 12 signs"):
        Door("0.0.0.0", 0, pem, pem, "short")
    with pytest.raises(InputError, match="address in numbers"):
        Door("example.org")
    assert Door("0.0.0.0", 0, pem, pem, "long enough phrase").scheme == "https"
    assert Door().host == "127.0.0.1"


def test_it_listens_on_this_machine_only(running):
    name, port = host(running)
    assert name == "127.0.0.1"
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    for address in others - {"127.0.0.1"}:
        with pytest.raises((ConnectionRefusedError, TimeoutError)):
            socket.create_connection((address, port), timeout=1)


def test_a_queue_that_is_damaged_is_not_written_over(tmp_path):
    data = prepare(tmp_path / "d")
    (data / "queue.json").write_text('{"format": 1, "entr')
    with pytest.raises(AssertionError, match="queue of format 1"), station(data, ""):
        pass
    assert (data / "queue.json").read_text() == '{"format": 1, "entr'
