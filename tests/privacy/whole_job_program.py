"""The whole job in the folder it is started in: exams, results, pages, exports, a certificate.

One exam in a real window (DISPLAY must be there), one on a virtual clock. Commands are run as an
operator types them, with paths from the home folder where a person would write them so.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "faults"))

from exam_rig import OBSERVER, PATTERN, PROTOCOL
from records import record

from stimulus.cli import run


def main(home: Path) -> None:
    for name, text in {"tiny": PROTOCOL, "four": PATTERN, "observer": OBSERVER}.items():
        (home / f"{name}.toml").write_text(text)
    out = home / "out"
    out.mkdir()
    record(out / "V-1", eyes=("right", "left"))
    do(
        *("run", str(home / "tiny.toml"), "--participant", "W-1", "--age", "45", "--eye", "right"),
        *("--windowed", "640x480", "--distance", "20", "--screen-width", "20"),
        *("--safety-confirmed-by", "AB", "--start", "now", "--skip-practice", "--seed", "6"),
        *("--button", f"simulated:{home / 'observer.toml'}", "--out", str(out / "W-1")),
    )
    exams = [str(out / "V-1"), str(out / "W-1")]
    do("grade", *exams)
    certificate = str(out / "certificate.json")
    do("calibrate", "all", "--photometer", "simulated:office", "--out", certificate)
    for source in (str(out / "V-1"), str(out / "W-1"), certificate):
        do("report", source, "--out", str(out / f"{Path(source).stem}.html"))
    for source in exams:
        do("report", source, "--out", str(out / f"{Path(source).stem}.pdf"))
    do("export", "bids", *exams, "--out", str(out / "bids"))
    do("export", "dicom", *exams, "--mean-luminance", "50", "--out", str(out / "dicom"))
    do("export", "fhir", *exams, "--out", str(out / "fhir"))
    do("scrub", *exams, "--out", str(out / "scrubbed"))


def do(*words: str) -> None:
    sys.argv = ["ripplefield", *words]
    code = run(words)
    assert code == 0, (words, code)


main(Path(sys.argv[1]))
