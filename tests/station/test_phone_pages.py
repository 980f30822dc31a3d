"""A phone as a button: another browser presses on the station's page, over TLS with pass phrase.

A real exam takes the presses; a slowed network is refused, and holds an exam that runs.
"""

from __future__ import annotations

import ssl
import subprocess
from collections.abc import Iterator

import httpx
import pytest
from exam_rig import PROTOCOL, data_of
from station_rig import CSV, Running, prepare, station, until

PHRASE = "seven green lanterns"
UNHURRIED = (
    PROTOCOL.replace("accept_until_s = 0.3", "accept_until_s = 0.6")
    .replace("min_s = 0.1", "min_s = 0.4")
    .replace("max_s = 0.12", "max_s = 0.45")
)
PRESS_JS = """ms => { window.pressing = setInterval(() => {
  document.querySelector('[data-area]').dispatchEvent(
    new PointerEvent('pointerdown', {bubbles: true, cancelable: true})); }, ms); }"""


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> tuple[str, ...]:
    folder = tmp_path_factory.mktemp("tls")
    cert, key, phrase = (folder / name for name in ("c.pem", "k.pem", "phrase"))
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
         "-nodes", "-days", "1", "-subj", "/CN=station", "-addext",
         "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(cert)],
        check=True, capture_output=True,
    )  # fmt: skip
    phrase.write_text(PHRASE + "\n")
    return ("--tls-cert", str(cert), "--tls-key", str(key), "--pass-phrase-file", str(phrase))


@pytest.fixture
def running(tmp_path, display, files) -> Iterator[Running]:
    data = prepare(tmp_path / "d", UNHURRIED, "keyboard")
    with station(data, display, *files) as found:
        yield found


def operator(running: Running, files: tuple[str, ...]) -> httpx.Client:
    client = httpx.Client(
        base_url=running.address,
        verify=ssl.create_default_context(cafile=files[1]),
        headers={"origin": running.address},
    )
    token = running.link.split("token=")[1]
    client.post("/open", data={"token": token, "phrase": PHRASE})
    return client


def code_of(client: httpx.Client) -> str:
    return client.get("/settings").text.split("data-phone-code>")[1].split("<")[0]


def phone_page(browser, running: Running, client: httpx.Client):
    """Another browser, let in by code and pass phrase."""
    context = browser.new_context(
        ignore_https_errors=True, viewport={"width": 390, "height": 780}, has_touch=True
    )
    page = context.new_page()
    page.set_default_timeout(30_000)
    page.goto(running.address + "/press/door")
    page.fill("#code", code_of(client))
    page.fill("#phrase", PHRASE)
    page.click("text=Open >> nth=-1")
    page.wait_for_selector("[data-area]")
    return page


def wait_until_used(page) -> None:
    page.wait_for_function(
        "() => document.querySelector('[data-state]').textContent.startsWith('In use')"
    )


def slow(page, latency_ms: float) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": latency_ms, "downloadThroughput": -1, "uploadThroughput": -1},
    )


def readable(page) -> None:
    """axe-core's rules (WCAG 2.2) on the phone's page, light and dark; nothing wider than it is."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="needs axe")
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found = axe.Axe().run(page).response["violations"]
        bad = [one["id"] for one in found if one["impact"] in ("serious", "critical", "moderate")]
        assert not bad, bad
    page.set_viewport_size({"width": 320, "height": 480})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 320


def settings_with(client: httpx.Client, button: str) -> str:
    """Ask for a button; the page's answer."""
    client.post("/settings", data={"button": button})
    found = client.get("/settings")
    assert found.status_code == 200, found.text
    return found.text


def test_a_phone_is_refused_by_default_and_its_session_opens_its_page_only(
    running, files, browser
):
    client = operator(running, files)
    text = settings_with(client, "phone")
    assert "no phone has its page open" in text, text[1800:6000]
    assert "Not done." in settings_with(client, "phone:10.0.0.7")
    page = phone_page(browser, running, client)
    for path in ("/queue", "/live", "/settings", "/day", "/results"):
        assert page.request.get(running.address + path).status == 403
    readable(page)
    page.context.close()
    stranger = httpx.Client(
        base_url=running.address, verify=False,
        headers={"origin": running.address},
    )  # fmt: skip
    for data in ({"code": "00000000", "phrase": PHRASE}, {"code": code_of(client), "phrase": "no"}):
        assert stranger.post("/press/door", data=data).status_code == 403
    for path in ("/press/echo", "/press/now"):
        assert stranger.post(path, data={"sent": "1", "at": "1"}).status_code == 403


def test_a_measured_phone_runs_an_exam_and_a_slowed_one_holds_it(running, files, browser):
    client = operator(running, files)
    page = phone_page(browser, running, client)
    wait_until_used(page)
    box = page.locator("[data-area]").bounding_box()
    assert box["width"] * box["height"] > 0.5 * 390 * 780, "a big area to press"
    assert "Kept." in settings_with(client, "phone")
    client.post("/queue/csv", data={"csv": CSV.splitlines()[0] + "\nP-001,45,no,right,no,en\n"})
    entry = client.get("/queue").text.split('name="entry" value="')[1].split('"')[0]
    client.post("/queue/start", data={"entry": entry, "initials": "AB", "waive": "yes"})
    folder = running.data / "exams" / "P-001-1"
    until(lambda: data_of(folder, "opened"), "the exam")
    button = data_of(folder, "opened")[0]["button"]
    assert button["name"] == "phone"
    assert 0 < button["resolution_s"] <= 0.025
    assert "round trips" in button["measured"]
    print(button["measured"])
    page.evaluate(PRESS_JS, 450)
    until(lambda: len(data_of(folder, "answered")) >= 6, "answers")
    answers = data_of(folder, "answered")
    pressed = [t for one in answers for t in one["presses_s"]]
    assert len(pressed) >= 3
    assert all(t >= -0.025 for t in pressed)
    assert any(one["verdict"] == "seen" for one in answers)
    slow(page, 250)
    until(lambda: data_of(folder, "held"), "the hold")
    reason = data_of(folder, "held")[0]["reason"]
    assert "the limit is" in reason or "not heard" in reason
    client.post("/live/ask", data={"do": "stop", "sure": "yes"})
    until(lambda: data_of(folder, "closed"), "the close")
    page.context.close()


def test_a_slow_network_is_refused_with_figures(running, files, browser):
    client = operator(running, files)
    page = phone_page(browser, running, client)
    slow(page, 120)
    page.reload()
    page.wait_for_function(
        "() => document.querySelector('[data-state]').textContent.includes('the limit is')"
    )
    text = settings_with(client, "phone")
    assert "Not done." in text
    assert "the limit is 100 ms" in text
    page.context.close()


def test_the_time_of_a_press_on_the_phone_is_its_time_here(running, files, browser):
    """The page and this test share a machine, so the wall clocks of both are one: the mapped time

    of a press must agree with it within the stated uncertainty and the wall clock's fineness.
    """
    from stimulus.buttons.phone import PhoneButton
    from stimulus.clock import clock

    client = operator(running, files)
    page = phone_page(browser, running, client)
    wait_until_used(page)
    button = PhoneButton(running.data / "runs" / "phone.sock")
    button.start()
    found = []
    for _ in range(5):
        before_s = clock()
        page.touchscreen.tap(195, 300)
        after_s = clock()
        until(lambda: found.extend(button.presses()) or found, "the press")
        assert before_s - button.resolution_s <= found.pop() <= after_s + button.resolution_s
        assert not found
    button.close()
    page.context.close()
