"""An exam on a display with a certificate: what it takes over, and every refusal with its words.

The certificate is measured on a simulated display, then given the identity of the virtual screen
at hand, so that the real window, the real look-up tables and the real comparison are in play.
"""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import datetime, timezone
from pathlib import Path

import pytest
from msgspec.structs import replace

from analysis.grade import grade_folder
from calibration.certificate import Certificate, read_certificate, write_certificate
from calibration.simulated import DisplayFile, SimulatedDisplay
from protocols.errors import InputError
from protocols.library import load_protocol
from stimulus.calibrating.job import run_steps
from stimulus.calibrating.simulated_bench import SimulatedBench
from stimulus.calibrating.steps import Wish
from stimulus.certified import load_for_running, panel_response, refuse_faint, refuse_other_display
from stimulus.pacing import Refresh
from stimulus.system_tables import read_output

sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))
from exam_rig import Desk, set_up

STEPS = ("geometry", "gamma", "timing", "flicker", "latency")
FILE = DisplayFile(
    about="for tests",
    width_px=640,
    height_px=480,
    width_cm=20.0,
    black_cd_m2=[0.4, 1.2, 0.2],
    gamma=[2.1, 2.3, 2.0],
)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory, display: str) -> Certificate:
    """A certificate of the virtual screen at hand."""
    folder = tmp_path_factory.mktemp("certificate")
    bench = SimulatedBench(SimulatedDisplay(FILE), 3, distance_cm=20.0, display_locked=False)
    wish = Wish(load_protocol("screen-19").settings.stimulus, 3, folder / "readings.jsonl")
    found = run_steps(STEPS, bench, folder / "c.json", wish, "test", lambda *_: None)
    output = read_output(0)
    identity = replace(
        found.identity,
        display_name=output.connector,
        system_tables_sha256=output.tables_sha256,
    )
    return write_certificate(folder / "c.json", replace(found, identity=identity))


@pytest.fixture
def desk(tmp_path: Path, display: str) -> Desk:
    return set_up(tmp_path, display)


def ended(process: subprocess.Popen[str]) -> tuple[int, str, str]:
    out, err = process.communicate(timeout=90)
    return process.returncode, out, err


def words_of(desk: Desk, *more: str) -> list[str]:
    words = desk.new_exam("exam", "simulated:observer.toml", 5, "--display", "c.json", *more)
    for option in ("--distance", "--screen-width"):
        at = words.index(option)
        del words[at : at + 2]
    return words


def lines_of(folder: Path, kind: str) -> list[dict]:
    lines = map(json.loads, (folder / "journal.jsonl").read_text().splitlines())
    return [line["data"] for line in lines if line["kind"] == kind]


def test_an_exam_takes_over_what_was_measured(desk: Desk, measured: Certificate):
    write_certificate(desk.folder / "c.json", measured)
    code, out, err = ended(desk.run(*words_of(desk)))
    assert code == 0, err
    shown = lines_of(desk.folder / "exam", "display")[0]
    assert shown["calibrated"] is True
    assert shown["certificate_sha256"] == measured.sha256
    assert shown["mean_luminance_cd_m2"] == measured.gamma.mean_cd_m2.value
    assert f"certificate {measured.sha256[:12]}" in out
    share = shown["greatest_contrast"] * shown["frame_hold"] * shown["panel_response"]
    assert shown["greatest_contrast"] < 0.99
    assert 0.85 < shown["panel_response"] < 0.95
    for one in lines_of(desk.folder / "exam", "presented"):
        assert one["contrast_delivered"] == pytest.approx(one["contrast_nominal"] * share)
        assert one["swing_cd_m2"] is not None
    kept = read_certificate(desk.folder / "exam" / "display.json")
    assert kept == measured
    assert grade_folder(desk.folder / "exam").display.certificate_sha256 == measured.sha256


def test_response_times_are_kept_raw_and_corrected(desk: Desk, measured: Certificate):
    write_certificate(desk.folder / "c.json", measured)
    assert ended(desk.run(*words_of(desk)))[0] == 0
    delay_s = measured.latency.correction_s
    assert 0.014 < delay_s < 0.018
    assert lines_of(desk.folder / "exam", "opened")[0]["latency_s"] == delay_s
    answered = [a for a in lines_of(desk.folder / "exam", "answered") if a["press_s"] is not None]
    assert answered
    for one in answered:
        raw, corrected = one["response_time_s"], one["corrected_response_time_s"]
        assert raw - corrected == pytest.approx(delay_s, abs=2e-6)


def test_an_exam_is_taken_up_again_on_its_own_certificate(desk: Desk, measured: Certificate):
    write_certificate(desk.folder / "c.json", measured)
    running = desk.run(*words_of(desk))
    journal = desk.folder / "exam" / "journal.jsonl"
    while not journal.exists() or '"answered"' not in journal.read_text():
        assert running.poll() is None
    running.kill()
    running.wait()
    (desk.folder / "c.json").unlink()
    resumed = desk.run("--resume", "exam", "--start", "now", "--button", "simulated:observer.toml")
    code, _, err = ended(resumed)
    assert code == 0, err
    first, second = lines_of(desk.folder / "exam", "display")
    assert second["certificate_sha256"] == first["certificate_sha256"] == measured.sha256


def test_a_changed_certificate_is_refused(desk: Desk, measured: Certificate):
    path = desk.folder / "c.json"
    write_certificate(path, measured)
    text = path.read_text()
    path.write_text(text.replace('"format": 1', '"format": 1 '.replace("1 ", "1"), 1))
    assert read_certificate(path) == measured
    path.write_text(text.replace('"code": 255', '"code": 254', 1))
    code, _, err = ended(desk.run(*words_of(desk)))
    assert code == 2
    assert err.startswith("error: c.json, sha256: got ")
    assert err.endswith("The file was changed after it was made: calibrate again.\n")
    assert not (desk.folder / "exam").exists()


def refused(call) -> str:
    with pytest.raises(InputError) as caught:
        call()
    return str(caught.value)


AGAIN = "Calibrate again: ripplefield calibrate all --out CERT.json"


def test_a_lapsed_one(tmp_path: Path, measured: Certificate):
    path = tmp_path / "c.json"
    write_certificate(path, replace(measured, lapses_utc="2026-01-31T00:00:00+00:00"))
    now = datetime(2026, 1, 31, tzinfo=timezone.utc)
    assert refused(lambda: load_for_running(path, now)) == (
        f'--display: got "{path}, lapsed 2026-01-31T00:00:00+00:00"; allowed: one that has not '
        f"lapsed. {AGAIN}"
    )


@pytest.mark.parametrize(
    ("part", "step"), [("geometry", "geometry"), ("gamma", "gamma"), ("contrast_range", "gamma")]
)
def test_one_without_what_it_takes(tmp_path: Path, measured: Certificate, part: str, step: str):
    path = tmp_path / "c.json"
    write_certificate(path, replace(measured, **{part: None}))
    assert refused(lambda: load_for_running(path)) == (
        f'--display: got "{path}, without {part}"; allowed: a certificate with geometry, gamma and '
        f"contrast range. Add it: ripplefield calibrate {step} --out {path}"
    )


def test_one_of_a_newer_version(tmp_path: Path, measured: Certificate):
    path = tmp_path / "c.json"
    write_certificate(path, replace(measured, format=2))
    assert refused(lambda: read_certificate(path)) == (
        f"{path}, format: got 2; allowed: up to 1. It was made by a newer version: use that one, "
        "or calibrate again."
    )


def refresh(hz: float, locked: bool) -> Refresh:
    return Refresh(hz, locked, 1e-5, 40)


def locked(measured: Certificate) -> Certificate:
    return replace(measured, timing=replace(measured.timing, display_locked=True))


def test_another_refresh(measured: Certificate):
    call = lambda: refuse_other_display(locked(measured), refresh(75.0, True), read_output(0))  # noqa: E731
    assert refused(call) == (
        f'refresh: got "75.00 Hz"; allowed: 60.00 Hz, as certified. {AGAIN}'
    )


def test_frames_paced_by_software_where_the_display_paced_them(measured: Certificate):
    call = lambda: refuse_other_display(locked(measured), refresh(60.0, False), read_output(0))  # noqa: E731
    assert refused(call) == (
        'frames: got "paced by software"; allowed: locked to the display, as certified. ' + AGAIN
    )


def test_other_tables_of_the_system(measured: Certificate):
    """The tables are changed for real, as night mode does, and put back."""
    from Xlib import display as x
    from Xlib.ext import randr

    connection = x.Display()
    crtc = randr.get_screen_resources(connection.screen().root).crtcs[0]
    before = connection.xrandr_get_crtc_gamma(crtc)
    warm = [min(65535, 200 * n) for n in range(256)]
    try:
        connection.xrandr_set_crtc_gamma(crtc, 256, warm, warm, warm)
        connection.sync()
        found = read_output(0)
        said = refused(lambda: refuse_other_display(measured, refresh(60.0, False), found))
    finally:
        connection.xrandr_set_crtc_gamma(crtc, 256, before.red, before.green, before.blue)
        connection.sync()
        connection.close()
    assert said == (
        f"the system's own look-up tables: got \"{found.tables_sha256[:12]}...\"; allowed: "
        f"{measured.identity.system_tables_sha256[:12]}..., as certified. Switch off night mode "
        "and colour profile loaders, or calibrate again."
    )
    assert read_output(0).tables_sha256 == measured.identity.system_tables_sha256


def test_another_display(measured: Certificate):
    other = replace(measured, identity=replace(measured.identity, display_name="HDMI-1"))
    said = refused(lambda: refuse_other_display(other, refresh(60.0, False), read_output(0)))
    assert said == (
        f'display: got "{read_output(0).connector}"; allowed: HDMI-1, as certified. '
        "Use that display."
    )


def test_a_protocol_that_asks_for_less_than_the_display_shows(measured: Certificate):
    coarse = replace(measured.contrast_range, lowest_contrast=0.05, greatest_contrast=1.0)
    said = refused(
        lambda: refuse_faint(
            replace(measured, contrast_range=coarse), {"right": [12.0, 34.0]}, "screen-19"
        )
    )
    assert said == (
        'screen-19: got "contrast down to 2.00 %"; allowed: 5.00 % and more, what this display '
        "shows truly. Use a display of more bits, or a protocol with stronger first levels."
    )


def test_a_flicker_rate_that_was_not_measured(measured: Certificate):
    assert panel_response(measured, 20.0) == pytest.approx(0.893, abs=0.01)
    assert refused(lambda: panel_response(measured, 18.75)) == (
        '--display: got "no panel response at 18.75 Hz"; allowed: a rate that was measured: 20.00 '
        "Hz. Measure it: ripplefield calibrate flicker --out CERT.json"
    )


def test_a_size_beside_the_certificate(desk: Desk, measured: Certificate):
    write_certificate(desk.folder / "c.json", measured)
    code, _, err = ended(desk.run(*words_of(desk, "--distance", "20")))
    assert (code, err) == (
        2,
        'error: --distance: got "20 beside --display"; allowed: one of the two. Leave --distance '
        "out: the certificate has it.\n",
    )


def test_a_window_of_another_size(desk: Desk, measured: Certificate):
    write_certificate(desk.folder / "c.json", measured)
    words = words_of(desk)
    words[words.index("640x480")] = "800x600"
    code, _, err = ended(desk.run(*words))
    assert (code, err) == (
        2,
        'error: --windowed: got "800x600"; allowed: 640x480, as certified. Give that size, or '
        "calibrate a window of the other size.\n",
    )
    assert not (desk.folder / "exam").exists()
