"""Wrong command lines."""

from __future__ import annotations

from command_desk import Case, run_words

from stimulus.cli import COMMANDS

CASES = [
    Case(
        "unknown command",
        ["rum"],
        (
            f'command: got "rum"; allowed: {", ".join(COMMANDS)}. '
            "Did you mean run? See: ripplefield --help"
        ),
    ),
    Case(
        "unknown option of the program",
        ["--foo"],
        'option: got "--foo"; allowed: --version, --help. See: ripplefield --help',
    ),
    Case(
        "unknown option",
        ["verify", "--jsn", "finished"],
        (
            'option: got "--jsn"; allowed: --public-key, --json, --help. Did you mean --json? See: '
            "ripplefield verify --help"
        ),
    ),
    Case(
        "extra argument",
        ["run", "protocol.toml", "another"],
        (
            'extra argument: got "another"; allowed: ripplefield run [OPTIONS] [PROTOCOL]. '
            "Remove it, or put words that belong together in quotation marks. See: "
            "ripplefield run --help"
        ),
    ),
    Case(
        "value missing",
        ["demo", "--seed"],
        (
            "--seed: got nothing; allowed: a whole number from 0 to 2147483648. Write the "
            "value after --seed. See: ripplefield demo --help"
        ),
    ),
    Case(
        "value where none belongs",
        ["verify", "--json=yes", "x"],
        (
            '--json: got "a value"; allowed: --json alone. Leave the value out. See: '
            "ripplefield verify --help"
        ),
    ),
    Case(
        "argument missing",
        ["verify"],
        (
            "DIR...: got nothing; allowed: one or more folders that hold an exam. Add DIR. "
            "See: ripplefield verify --help"
        ),
    ),
    Case(
        "argument missing (grade)",
        ["grade"],
        (
            "DIR...: got nothing; allowed: one or more folders that hold an exam. Add DIR. "
            "See: ripplefield grade --help"
        ),
    ),
    Case(
        "choice missing",
        ["schema"],
        (
            "FORMAT: got nothing; allowed: protocol, journal, result, certificate, plan, pilot, "
            "case or case-record. Add FORMAT. See: ripplefield schema --help"
        ),
    ),
    Case(
        "choice",
        ["schema", "jurnal"],
        (
            'FORMAT: got "jurnal"; allowed: protocol, journal, result, certificate, plan, pilot, '
            "case or case-record. Choose one of them."
        ),
    ),
    Case(
        "calibrate no step",
        ["calibrate"],
        "STEP: got nothing; allowed: geometry, gamma, timing, flicker, latency, uniformity or all. "
        "Add STEP. See: ripplefield calibrate --help",
    ),
    Case(
        "calibrate another step",
        ["calibrate", "colour", "--out", "c.json"],
        'STEP: got "colour"; allowed: geometry, gamma, timing, flicker, latency, uniformity or '
        "all. Choose one of them.",
    ),
    Case(
        "calibrate without --out",
        ["calibrate", "gamma"],
        "--out: got nothing; allowed: the certificate's file, new or to go on with. Add --out. "
        "See: ripplefield calibrate --help",
    ),
    Case(
        "calibrate without a meter",
        ["calibrate", "gamma", "--out", "c.json"],
        "--photometer: got nothing; allowed: serial:PORT[:PROTOCOL.toml], manual, eye or "
        "simulated:NAME. Add --photometer to calibrate gamma.",
    ),
    Case(
        "calibrate with a short warm-up",
        [
            *("calibrate", "uniformity", "--out", "c.json"),
            *("--photometer", "serial:x", "--warm-up", "5"),
        ],
        '--warm-up: got "5"; allowed: a number from 20 to 600, in min. Half an hour or more from '
        "switching on; an hour is usual.",
    ),
    Case(
        "calibrate with half a scale",
        ["calibrate", "flicker", "--out", "c.json", "--trace", "steps.csv", "--trace-scale", "5"],
        '--trace-scale: got "5"; allowed: the lowest and the highest value. Write it like 0,1023.',
    ),
    Case(
        "calibrate with a scale upside down",
        ["calibrate", "flicker", "--out", "c.json", "--trace", "steps.csv", "--trace-scale", "9,5"],
        '--trace-scale: got "9,5"; allowed: the lowest and the highest value. Write it like '
        "0,1023.",
    ),
    Case(
        "calibrate with a photodiode on no port",
        ["calibrate", "flicker", "--out", "c.json", "--trace", "serial:"],
        '--trace: got "serial:"; allowed: a photodiode\'s recording, .csv or .wav, or '
        "serial:PORT[:BAUD] of a photodiode. Name the port, such as /dev/ttyACM0.",
    ),
    Case(
        "calibrate with a peak in words",
        ["calibrate", "gamma", "--out", "c.json", "--photometer", "eye", "--peak", "bright"],
        '--peak: got "bright"; allowed: a number from 1 to 100000, in cd/m2. See the display\'s '
        "data sheet.",
    ),
    Case(
        "unknown command of a group",
        ["protocols", "shwo"],
        (
            'command: got "shwo"; allowed: show. Did you mean show? See: ripplefield '
            "protocols --help"
        ),
    ),
    Case(
        "argument missing (show)",
        ["protocols", "show"],
        (
            "PROTOCOL: got nothing; allowed: a bundled name or the path of a .toml file. "
            "Add PROTOCOL. See: ripplefield protocols show --help"
        ),
    ),
    Case(
        "empty argument",
        ["protocols", "show", ""],
        (
            "PROTOCOL: got nothing; allowed: a bundled name or the path of a .toml file. "
            "Write it out."
        ),
    ),
    Case(
        "negative seed",
        ["demo", "--seed", "-1"],
        ('--seed: got "-1"; allowed: a whole number from 0 to 2147483648. Give a whole number.'),
    ),
    Case(
        "broken seed",
        ["demo", "--seed", "1.5"],
        ('--seed: got "1.5"; allowed: a whole number from 0 to 2147483648. Give a whole number.'),
    ),
    Case(
        "--eye",
        run_words(eye="up"),
        '--eye: got "up"; allowed: right, left or both. Choose one of them.',
    ),
    Case(
        "--start",
        run_words(start="later"),
        '--start: got "later"; allowed: press or now. Choose one of them.',
    ),
    Case(
        "age in words",
        run_words(age="forty-five"),
        (
            '--age: got "forty-five"; allowed: a whole number from 5 to 110, in years. Give'
            " the age in whole years."
        ),
    ),
    Case(
        "age not whole",
        run_words(age="45.5"),
        (
            '--age: got "45.5"; allowed: a whole number from 5 to 110, in years. Give the '
            "age in whole years."
        ),
    ),
    Case(
        "age too low",
        run_words(age="3"),
        (
            '--age: got "3"; allowed: a whole number from 5 to 110, in years. Give the age '
            "in whole years."
        ),
    ),
    Case(
        "age too high",
        run_words(age="145"),
        (
            '--age: got "145"; allowed: a whole number from 5 to 110, in years. Give the '
            "age in whole years."
        ),
    ),
    Case(
        "seed too large",
        run_words(seed="5000000000"),
        (
            '--seed: got "5000000000"; allowed: a whole number from 0 to 4294967295. Give a'
            " whole number."
        ),
    ),
    Case(
        "distance near",
        run_words(distance="5"),
        (
            '--distance: got "5"; allowed: a number from 10 to 300, in cm. Measure from the'
            " eye to the fixation mark."
        ),
    ),
    Case(
        "distance unit",
        run_words(distance="35cm"),
        (
            '--distance: got "35cm"; allowed: a number from 10 to 300, in cm. Measure from '
            "the eye to the fixation mark."
        ),
    ),
    Case(
        "distance nan",
        run_words(distance="nan"),
        (
            '--distance: got "nan"; allowed: a number from 10 to 300, in cm. Measure from '
            "the eye to the fixation mark."
        ),
    ),
    Case(
        "width",
        run_words(screen_width="0"),
        (
            '--screen-width: got "0"; allowed: a number from 5 to 500, in cm. Measure the '
            "lit width that the window covers with a ruler."
        ),
    ),
    Case(
        "screen",
        run_words(screen="-1"),
        ('--screen: got "-1"; allowed: a whole number from 0 to 15. Count screens from 0.'),
    ),
    Case(
        "window size one number",
        run_words(windowed="1280"),
        (
            '--windowed: got "1280"; allowed: WIDTHxHEIGHT in pixels, each 200 to 16384. '
            "Write it like 1280x720."
        ),
    ),
    Case(
        "window size small",
        run_words(windowed="100x100"),
        (
            '--windowed: got "100x100"; allowed: WIDTHxHEIGHT in pixels, each 200 to 16384.'
            " Write it like 1280x720."
        ),
    ),
    Case(
        "no protocol",
        run_words(None),
        (
            "PROTOCOL: got nothing; allowed: a bundled name or a file. Add PROTOCOL. See: "
            "ripplefield protocols"
        ),
    ),
    Case(
        "no participant",
        run_words(participant=None),
        ("--participant: got nothing; allowed: a code such as P-017. Add --participant CODE."),
    ),
    Case(
        "no age",
        run_words(age=None),
        "--age: got nothing; allowed: whole years from 5 to 110. Add --age YEARS.",
    ),
    Case(
        "no eye",
        run_words(eye=None),
        "--eye: got nothing; allowed: right, left or both. Add --eye both.",
    ),
    Case(
        "no out",
        run_words(out=None),
        "--out: got nothing; allowed: a new folder. Add --out DIR.",
    ),
    Case(
        "no distance",
        run_words(distance=None),
        (
            "--distance: got nothing; allowed: 10 to 300 cm. Add --distance CM. Measure "
            "from the eye to the fixation mark."
        ),
    ),
    Case(
        "no width",
        run_words(screen_width=None),
        (
            "--screen-width: got nothing; allowed: 5 to 500 cm. Add --screen-width CM. "
            "Measure the lit width that the window covers with a ruler."
        ),
    ),
    Case(
        "no caution",
        run_words(button=None),
        (
            "--safety-confirmed-by: got nothing; allowed: the initials of the operator who "
            'asked the photosensitivity question. Ask: "Have you ever had a seizure, or '
            "been told that you are sensitive to flickering light? If yes or unsure, do not"
            ' take part." Then add --safety-confirmed-by INITIALS.'
        ),
    ),
    Case(
        "initials",
        run_words(safety_confirmed_by="A1"),
        (
            '--safety-confirmed-by: got "A1"; allowed: the operator\'s initials, 2 to 4 '
            "letters. Ask the photosensitivity question, then give your initials."
        ),
    ),
    Case(
        "name",
        run_words(participant="Anna Berg"),
        (
            '--participant: got "Anna Berg"; allowed: 2 to 20 letters, digits and hyphens '
            "with at least one digit, such as P-017; no name, date, e-mail or phone number."
            " Use a plain code."
        ),
    ),
    Case(
        "no digit",
        run_words(participant="Berg"),
        (
            '--participant: got "Berg"; allowed: 2 to 20 letters, digits and hyphens with '
            "at least one digit, such as P-017; no name, date, e-mail or phone number. It "
            "has no digit, so it may be a name; add a number."
        ),
    ),
    Case(
        "word",
        run_words(participant="Berg-1"),
        (
            '--participant: got "Berg-1"; allowed: 2 to 20 letters, digits and hyphens with'
            " at least one digit, such as P-017; no name, date, e-mail or phone number. It "
            "holds a word that may be a name; use at most three letters."
        ),
    ),
    Case(
        "date",
        run_words(participant="1980-05-12"),
        (
            '--participant: got "1980-05-12"; allowed: 2 to 20 letters, digits and hyphens '
            "with at least one digit, such as P-017; no name, date, e-mail or phone number."
            " It looks like a date of birth; give the age in years instead."
        ),
    ),
    Case(
        "phone",
        run_words(participant="P-12345678"),
        (
            '--participant: got "P-12345678"; allowed: 2 to 20 letters, digits and hyphens '
            "with at least one digit, such as P-017; no name, date, e-mail or phone number."
            " It looks like a phone or identity number; use a short code."
        ),
    ),
    Case(
        "empty participant",
        run_words(participant=""),
        "--participant: got nothing; allowed: a code such as P-017. Write it out.",
    ),
    Case(
        "out is a file",
        run_words(out="observer.toml"),
        (
            '--out: got "observer.toml"; allowed: a folder that does not exist yet. Name '
            "another folder."
        ),
    ),
    Case(
        "out below a file",
        run_words(out="observer.toml/x"),
        (
            '--out: got "observer.toml/x"; allowed: a folder that can be written to. The '
            "system says: Not a directory."
        ),
    ),
    Case(
        "out holds files",
        run_words(out="full"),
        ('--out: got "full"; allowed: a folder that is new or empty. Name another folder.'),
        files={"full/notes.txt": "mine"},
    ),
    Case(
        "out holds an exam",
        run_words(out="finished"),
        (
            '--out: got "finished"; allowed: a folder that is new or empty. Name another '
            "folder, or go on with this exam: ripplefield run --resume finished"
        ),
    ),
    Case(
        "button kind",
        run_words(button="foot:1", safety_confirmed_by="AB"),
        (
            'button: got "foot:1"; allowed: keyboard, serial, simulated, phone. Name a '
            "button, such as serial:/dev/ttyUSB0."
        ),
    ),
    Case(
        "button keyboard detail",
        run_words(button="keyboard:2", safety_confirmed_by="AB"),
        'button: got "keyboard:2"; allowed: keyboard. Write it without a colon.',
    ),
    Case(
        "button serial no port",
        run_words(button="serial:", safety_confirmed_by="AB"),
        (
            'button: got "serial:"; allowed: serial:PORT. Name the port, such as '
            "serial:/dev/ttyUSB0."
        ),
    ),
    Case(
        "button simulated no file",
        run_words(button="simulated:"),
        (
            'button: got "simulated:"; allowed: simulated:FILE.toml. Name an observer file '
            "after the colon."
        ),
    ),
]
