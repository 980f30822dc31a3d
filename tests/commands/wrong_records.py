"""Folders that hold no exam, or one in the wrong state."""

from __future__ import annotations

from command_desk import Case

CASES = [
    Case(
        "resume nowhere",
        ["run", "--resume", "nowhere"],
        (
            'exam folder: got "nowhere"; allowed: a folder that holds journal.jsonl. Name '
            "the folder an exam was written to."
        ),
    ),
    Case(
        "resume no exam",
        ["run", "--resume", "full"],
        (
            'exam folder: got "full"; allowed: a folder that holds journal.jsonl. Name the '
            "folder an exam was written to."
        ),
        files={"full/notes.txt": "mine"},
    ),
    Case(
        "resume finished",
        ["run", "--resume", "finished"],
        (
            '--resume: got "finished"; allowed: an exam that is not finished. Nothing is '
            "left to do: ripplefield grade finished"
        ),
    ),
    Case(
        "resume with age",
        ["run", "--resume", "begun", "--age", "45"],
        (
            '--resume: got "--resume together with --age"; allowed: --resume alone, with '
            "--button, --start or --language at most. Leave --age out: the record has it already."
        ),
    ),
    Case(
        "resume with protocol",
        ["run", "screen-19", "--resume", "begun"],
        (
            '--resume: got "--resume together with PROTOCOL"; allowed: --resume alone, with'
            " --button, --start or --language at most. Leave PROTOCOL out: the record has it "
            "already."
        ),
    ),
    Case(
        "resume with skip",
        ["run", "--resume", "begun", "--skip-practice"],
        (
            '--resume: got "--resume together with --skip-practice"; allowed: --resume '
            "alone, with --button, --start or --language at most. Leave --skip-practice out: "
            "the record has it already."
        ),
    ),
    Case(
        "resume no observer",
        ["run", "--resume", "begun"],
        (
            "--button: got nothing; allowed: the button, since gone.toml of the first "
            "sitting is not in this folder. Add --button simulated:PATH/gone.toml"
        ),
    ),
    Case(
        "resume virtual",
        ["run", "--resume", "virtual"],
        (
            '--resume: got "virtual"; allowed: an exam that was run in a window. This one '
            "ran on a virtual clock; run it anew."
        ),
    ),
    Case(
        "resume changed",
        ["run", "--resume", "changed"],
        (
            '--resume: got "changed"; allowed: a record that was not changed. ripplefield '
            "verify says: line 7 does not follow line 6: a line was changed, lost or moved."
        ),
    ),
    Case(
        "resume other protocol",
        ["run", "--resume", "swapped"],
        (
            'protocol: got "SHA-256 460524788ca5..."; allowed: 6a95bf6a31c0..., the one the'
            " exam was opened with. Restore the protocol.toml and pattern.toml that were in"
            " the folder."
        ),
    ),
    Case(
        "resume barely",
        ["run", "--resume", "barely"],
        (
            '--resume: got "barely"; allowed: a record with its first lines. The exam ended'
            " before it began; start a new one."
        ),
    ),
    Case(
        "resume empty",
        ["run", "--resume", "empty"],
        (
            '--resume: got "empty"; allowed: a record with its first lines. The exam ended '
            "before it began; start a new one."
        ),
    ),
    Case(
        "grade nowhere",
        ["grade", "nowhere"],
        'DIR: got "nowhere"; allowed: a folder that holds an exam. Check the path.',
    ),
    Case(
        "grade no exam",
        ["grade", "full"],
        (
            'exam folder: got "full"; allowed: a folder that holds journal.jsonl. Name the '
            "folder an exam was written to."
        ),
        files={"full/notes.txt": "mine"},
    ),
    Case(
        "grade garbage",
        ["grade", "garbage"],
        (
            'garbage/journal.jsonl, line 5: got "JSON is malformed: invalid character (byte'
            ' 4)"; allowed: a journal line. Run ripplefield verify on the folder; work on '
            "an unchanged copy."
        ),
    ),
    Case(
        "grade kind",
        ["grade", "odd"],
        (
            "odd/journal.jsonl, line 6: got \"unknown kind 'dreamt'\"; allowed: a journal "
            "line. Run ripplefield verify on the folder; work on an unchanged copy."
        ),
    ),
    Case(
        "grade swapped",
        ["grade", "swapped"],
        (
            'protocol.toml: got "SHA-256 460524788ca5..."; allowed: 6a95bf6a31c0..., the '
            "one in the journal. Restore the protocol.toml and pattern.toml the exam was "
            "run with."
        ),
    ),
    Case(
        "grade barely",
        ["grade", "barely"],
        (
            'exam folder: got "barely"; allowed: a journal with a line of kind display. The'
            " exam stopped before it began; there is nothing to grade."
        ),
    ),
    Case(
        "grade empty",
        ["grade", "empty"],
        (
            'exam folder: got "empty"; allowed: a journal with a line of kind opened. The '
            "exam stopped before it began; there is nothing to grade."
        ),
    ),
    Case(
        "grade no protocol",
        ["grade", "bare"],
        ('exam folder: got "bare/protocol.toml"; allowed: a file that exists. Check the path.'),
    ),
    Case(
        "verify nowhere",
        ["verify", "nowhere"],
        'DIR: got "nowhere"; allowed: a folder that holds an exam. Check the path.',
    ),
    Case(
        "verify a file",
        ["verify", "observer.toml"],
        ('DIR: got "observer.toml"; allowed: a folder that holds an exam. Check the path.'),
    ),
    Case(
        "report nowhere",
        ["report", "nowhere"],
        'DIR: got "nowhere"; allowed: a folder that holds an exam. Check the path.',
    ),
    Case(
        "report txt",
        ["report", "finished", "--out", "page.txt"],
        ('--out: got "page.txt"; allowed: a name that ends in .html or .pdf. Rename the page.'),
    ),
    Case(
        "report barely",
        ["report", "barely"],
        (
            'exam folder: got "barely"; allowed: a journal with a line of kind display. The'
            " exam stopped before it began; there is nothing to grade."
        ),
    ),
    Case(
        "demo out",
        ["demo", "--out", "finished"],
        (
            '--out: got "finished"; allowed: a folder that is new or empty. Name another '
            "folder, or go on with this exam: ripplefield run --resume finished"
        ),
    ),
]
