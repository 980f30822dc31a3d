"""Every refusal of `calibrate` on a real window: its whole message, code 2, and nothing written."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from stimulus.cli import run

METERS = "serial:PORT[:PROTOCOL.toml], manual, eye or simulated:NAME"
RULER = "--width 40,40 --height 30,30"
TRACE = "a photodiode's recording, .csv or .wav, or serial:PORT[:BAUD] of a photodiode"


STEPS = "time_s,value\n" + "".join(
    f"{k / 5000:.4f},{k // 500 % 2 + 0.5 + k % 7 / 100:.2f}\n" for k in range(5000)
)
"""A recording of steps: seconds and light."""


@dataclass(frozen=True)
class Case:
    words: str
    error: str
    files: dict[str, str] = field(default_factory=dict)


CASES = [
    Case(
        "geometry --distance 40,40",
        "--width: got nothing; allowed: readings of the lit width in cm, or --card. Add --width to "
        "calibrate geometry.",
    ),
    Case(
        "geometry --width 40,40 --distance 40,40",
        "--height: got nothing; allowed: readings of the lit height in cm. Add --height to "
        "calibrate geometry.",
    ),
    Case(
        f"geometry {RULER}",
        "--distance: got nothing; allowed: readings from eye to mark in cm, or blind-spot. Add "
        "--distance to calibrate geometry.",
    ),
    Case(
        f"geometry {RULER} --distance blind-spot",
        "--button: got nothing; allowed: keyboard or serial:PORT. Add --button to calibrate "
        "geometry.",
    ),
    Case(
        f"geometry {RULER} --distance near",
        '--distance: got "near"; allowed: a number from 10 to 300, in cm, or several with commas '
        "between, or blind-spot. Measure from the eye to the mark, twice or more: 40.0,40.2",
    ),
    Case(
        f"geometry {RULER} --distance 40",
        "--distance, readings_cm, number of values: got 1; allowed: 2 or more. Measure again from "
        "the outer corner of the eye to the mark.",
    ),
    Case(
        "geometry --width 40,44 --height 30,30 --distance 40,40",
        '--width, --height, widths_cm, lowest to highest: got "9.5%"; allowed: up to 3%. Lay the '
        "ruler along the lit area and read both ends again.",
    ),
    Case(
        "geometry --card 324x204,wide --distance 40,40",
        '--card: got "324x204,wide"; allowed: match, or WIDTHxHEIGHT in pixels, three or more with '
        "commas between. Write them like 324x204,325x204,323x205.",
    ),
    Case(
        "geometry --card 324x204,325x204 --distance 40,40",
        "--card, widths_px, number of values: got 2; allowed: 3 or more. Match the outline to the "
        "card again.",
    ),
    Case(
        "geometry --card 324x204,325x204,323x205 --width 40,40 --distance 40,40",
        '--card: got "--card and --width or --height"; allowed: one of the two ways. Leave one '
        "out.",
    ),
    Case(
        "gamma",
        f"--photometer: got nothing; allowed: {METERS}. Add --photometer to calibrate gamma.",
    ),
    Case(
        "gamma --photometer lightmeter",
        'photometer: got "lightmeter"; allowed: serial, simulated, manual, eye. Name one, such as '
        "serial:/dev/ttyUSB0 or manual.",
    ),
    Case(
        "gamma --photometer serial:nowhere",
        'photometer: got "serial:nowhere"; allowed: a port that exists. Plug the instrument in and '
        "check its port's name.",
    ),
    Case(
        "gamma --photometer eye",
        "--peak: got nothing; allowed: the luminance of full white in cd/m2. Add --peak to "
        "calibrate gamma.",
    ),
    Case(
        "latency --button keyboard",
        "--rig: got nothing; allowed: serial:PORT of the loop-back rig's output. Add --rig to "
        "calibrate latency.",
    ),
    Case(
        "latency --rig serial:nowhere",
        "--button: got nothing; allowed: keyboard or serial:PORT. Add --button to calibrate "
        "latency.",
    ),
    Case(
        "latency --rig nowhere --button keyboard",
        '--rig: got "nowhere"; allowed: serial:PORT. Name the port of the rig\'s output.',
    ),
    Case(
        "latency --rig serial:nowhere --button keyboard",
        '--rig: got "serial:nowhere"; allowed: a port that exists. Plug the rig in and check its '
        "port's name.",
    ),
    Case(
        "flicker --trace steps.csv",
        'calibrate flicker: got "a certificate without timing"; allowed: one with timing. Measure '
        "it first: ripplefield calibrate timing",
        files={"steps.csv": STEPS},
    ),
    Case(
        "uniformity --photometer manual",
        'calibrate uniformity: got "a certificate without geometry"; allowed: one with geometry. '
        "Measure it first: ripplefield calibrate geometry",
    ),
    Case(
        f"all --photometer manual {RULER} --distance 40,40",
        f"--trace: got nothing; allowed: {TRACE}. Show the steps for it: ripplefield calibrate "
        "flicker. Or measure step by step.",
    ),
    Case(
        f"all --photometer manual {RULER} --distance 40,40 --trace steps.csv",
        "--rig: got nothing; allowed: serial:PORT of the loop-back rig's output. Add --rig to "
        "calibrate latency.",
    ),
    Case(
        "gamma --photometer manual --screen 3",
        "--screen: got 3; allowed: the number of a lit screen. Count screens from 0.",
    ),
    Case(
        "timing --windowed 3000x2000",
        'window size: got "3000x2000 px"; allowed: up to 1280x720 px. Make the window smaller or '
        "use a larger display.",
    ),
    Case(
        "gamma --photometer eye --peak 245",
        'cert.json.answers.jsonl: got "answers of another display, depth or seed"; allowed: '
        "answers of the matching that is asked for. Go on with the same command, or remove the "
        "file to begin anew.",
        {
            "cert.json.answers.jsonl": '{"format":1,"notice":"","display":{"machine":"","'
            'display_name":"","display_serial":"","width_px":1,"height_px":1,'
            '"system_tables_sha256":null,"simulated":false},"channels":["red"],"depth":1,'
            '"settings":2,"seed":0}\n'
        },
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.words)
def test_refusal(case, display, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name, text in case.files.items():
        (tmp_path / name).write_text(text)
    size = "" if "--windowed" in case.words else " --windowed 640x480"
    code = run(f"calibrate {case.words} --out cert.json{size}".split())
    said = capsys.readouterr().err.strip().splitlines()[-1]
    assert said == f"error: {case.error}"
    assert code == 2
    left = {path.name: path.read_text() for path in tmp_path.iterdir()}
    assert left == case.files


def test_without_a_display_the_error_says_what_to_do(tmp_path):
    import os
    import subprocess
    import sys

    from bench_rigs import ROOT

    environment = {k: v for k, v in os.environ.items() if k != "DISPLAY"}
    words = ["calibrate", "timing", "--windowed", "640x480", "--out", "cert.json"]
    ended = subprocess.run(
        [sys.executable, "-c", "from stimulus.cli import main; main()", *words],
        cwd=tmp_path,
        env={**environment, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ended.returncode == 2
    assert ended.stderr.splitlines()[-1] == (
        "error: display: got nothing; allowed: a running X display named by DISPLAY. Log in to a "
        "desktop, or install a virtual screen: apt-get install xvfb"
    )


def test_a_full_screen_bench_takes_the_size_of_the_display(display, tmp_path, capsys):
    """Geometry needs no window: the size comes from the display itself."""
    from calibration.certificate import read_certificate

    out = tmp_path / "cert.json"
    words = "calibrate geometry --width 53.1,53.0 --height 29.9,29.8 --distance 40.0,40.2 --out"
    assert run([*words.split(), str(out)]) == 0
    found = read_certificate(out)
    assert (found.identity.width_px, found.identity.height_px) == (1280, 720)
    assert found.geometry is not None
    assert found.geometry.width_cm.value == pytest.approx(53.05)
    assert found.geometry.distance_method == "tape from eye to mark"
    assert not found.identity.simulated


def test_a_card_gives_the_size_of_the_window(display, tmp_path):
    """ISO/IEC 7810 ID-1: 85.60 mm over 324 px, times 640 px."""
    from calibration.certificate import read_certificate

    out = tmp_path / "cert.json"
    words = "calibrate geometry --card 324x204,325x204,323x205 --distance 40,40.2"
    words += " --windowed 640x480"
    assert run([*words.split(), "--out", str(out)]) == 0
    part = read_certificate(out).geometry
    assert part is not None
    assert part.width_cm.value == pytest.approx(8.56 / 324 * 640, rel=1e-3)


def test_typed_readings_make_gamma_and_stop_keeps_them(display, tmp_path, monkeypatch, capsys):
    """Somebody reads a meter before the simulated display and types; stops once, goes on."""
    import io
    import re

    from calibration.certificate import read_certificate
    from calibration.instruments.interface import Target
    from calibration.luminance.plan import reading_plan
    from calibration.simulated import DisplayFile, SimulatedDisplay
    from stimulus.calibrating.window_bench import READ_BY_HAND

    truth = SimulatedDisplay(DisplayFile(about="Invented.", gamma=[2.1, 2.3, 2.4]))
    typed = [
        f"{float(truth.cd_m2(Target(step.channel, step.code).codes)):.4f}"
        for step in reading_plan(1, 8, READ_BY_HAND)
    ]
    monkeypatch.chdir(tmp_path)
    words = "calibrate gamma --photometer manual --windowed 640x480 --settle 0 --out cert.json"
    words += " --meter-name Hand --meter-serial H-1 --meter-uncertainty 0.03"
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join([*typed[:50], "stop"]) + "\n"))
    assert run(words.split()) == 130
    assert "What was entered is kept." in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(typed[50:]) + "\n"))
    assert run(words.split()) == 0, capsys.readouterr().err
    prompts = re.findall(r"\w+ at code \d+, cd/m2", capsys.readouterr().out)
    assert len(prompts) == len(typed) - 50
    found = read_certificate(tmp_path / "cert.json")
    assert found.gamma is not None
    assert [one.serial for one in found.instruments] == ["H-1"]
    for fit, gamma in zip(found.gamma.fits, truth.file.gamma, strict=True):
        assert fit.parameters["gamma"] == pytest.approx(gamma, abs=0.01), len(typed)
