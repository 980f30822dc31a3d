"""Wrong protocol, pattern, observer and reference files."""

from __future__ import annotations

from command_desk import (
    OBSERVER,
    PATTERN,
    Case,
    observer_with,
    pattern_with,
    protocol_with,
    run_words,
)

from protocols.library import bundled_protocols

PROTOCOLS = ", ".join(bundled_protocols())

CASES = [
    Case(
        "observer missing",
        run_words(button="simulated:nobody.toml"),
        'observer: got "nobody.toml"; allowed: a file that exists. Check the path.',
    ),
    Case(
        "observer not toml",
        run_words(),
        (
            'observer.toml: got "Invalid value (at end of document)"; allowed: TOML 1.0. '
            "Mend the line it names."
        ),
        files={"observer.toml": "format = "},
    ),
    Case(
        "observer unknown key",
        run_words(),
        (
            'observer.toml, age_year: got "an unknown key"; allowed: about, age_years, '
            "attention, fatigue, fixation, format, learning, left, pressing, reaction, "
            "right, seeing. Did you mean age_years?"
        ),
        files=observer_with("age_years", "age_year"),
    ),
    Case(
        "observer type",
        run_words(),
        (
            'observer.toml, age_years: got "old"; allowed: a whole number 5 to 110. Write a'
            " bare number: the unit is in the key's name (years)."
        ),
        files=observer_with("45", '"old"'),
    ),
    Case(
        "observer range",
        run_words(),
        (
            "observer.toml, right.centre_db: got 250; allowed: a number -20 to 50. Change "
            "it; the unit is contrast dB."
        ),
        files=observer_with("25.0", "250.0"),
    ),
    Case(
        "observer loss shape",
        run_words(),
        ('observer.toml, right.losses[0].shape: got "square"; allowed: disc or arc. Change it.'),
        files={"observer.toml": OBSERVER + '\n[[right.losses]]\nshape = "square"\n'},
    ),
    Case(
        "protocol name",
        run_words("screen-18"),
        (
            f'protocol: got "screen-18"; allowed: {PROTOCOLS}, '
            "or the path of a .toml file. Check the spelling or the path."
        ),
    ),
    Case(
        "protocol folder",
        run_words("full"),
        (
            f'protocol: got "full"; allowed: {PROTOCOLS}, '
            "or the path of a .toml file. Check the spelling or the path."
        ),
        files={"full/x": ""},
    ),
    Case(
        "protocol not toml",
        run_words(),
        (
            "protocol.toml: got \"Expected '=' after a key in a key/value pair (at line 1, "
            'column 7)"; allowed: TOML 1.0. Mend the line it names.'
        ),
        files={"protocol.toml": "format: 1\n"},
    ),
    Case(
        "protocol unknown key",
        run_words(),
        (
            'protocol.toml, stimulus.flickr_hz: got "an unknown key"; allowed: duration_s, '
            "flicker_hz, full_radius_deg, orientation_deg, outer_radius_deg, phases_deg, "
            "ramp_s, spatial_frequency_cpd. Did you mean flicker_hz?"
        ),
        files=protocol_with("flicker_hz", "flickr_hz"),
    ),
    Case(
        "protocol unit in value",
        run_words(),
        (
            'protocol.toml, stimulus.flicker_hz: got "20 Hz"; allowed: a number 5 to 60. '
            "Write a bare number: the unit is in the key's name (hertz)."
        ),
        files=protocol_with("20.0", '"20 Hz"'),
    ),
    Case(
        "protocol range",
        run_words(),
        (
            "protocol.toml, stimulus.flicker_hz: got 200; allowed: a number 5 to 60. Change"
            " it; the unit is hertz."
        ),
        files=protocol_with("20.0", "200"),
    ),
    Case(
        "protocol key missing",
        run_words(),
        ('protocol.toml, about: got nothing; allowed: text that is not empty. Add about.'),
        files=protocol_with('about = "Three places."', ""),
    ),
    Case(
        "protocol keys disagree",
        run_words(),
        (
            'protocol.toml, stimulus.duration_s: got "1.5"; allowed: up to '
            "answering.accept_until_s, 1. Shorten the presentation or lengthen the answer "
            "window."
        ),
        files=protocol_with("flicker_hz = 20.0", "duration_s = 1.5"),
    ),
    Case(
        "protocol no reason",
        run_words(),
        (
            "mine, safety.override_reason: got nothing; allowed: a reason in words, since "
            "the patch flickers above the general-flash guidance. Make the patch smaller "
            "than 5 degrees across, or state why it may be shown."
        ),
        files=protocol_with("Only invented participants.", ""),
    ),
    Case(
        "protocol pattern",
        run_words(),
        (
            'protocol.toml, pattern: got "rings18"; allowed: rings17, rings19, or the path '
            "of a .toml file. Check the spelling or the path."
        ),
        files=protocol_with("pattern.toml", "rings18"),
    ),
    Case(
        "pattern empty",
        run_words(),
        (
            'pattern.toml, places_deg: got "no place"; allowed: at least one. Add rings or '
            "places_deg."
        ),
        files=pattern_with("[]"),
    ),
    Case(
        "pattern overlap",
        run_words(),
        (
            'protocol.toml, pattern: got "places (0, 8) deg and (0, 12) deg that are 4.00 '
            'degrees apart"; allowed: at least 7 degrees, so that patches do not overlap. '
            "Move one of them or make the patch smaller."
        ),
        files=pattern_with("[[0.0, 8.0], [0.0, 12.0]]"),
    ),
    Case(
        "pattern blind spot",
        run_words(),
        (
            'protocol.toml, pattern: got "a place at (15, -2) deg, on the blind spot"; '
            "allowed: places outside the blind spot around (15.5, -1.5) deg of the right "
            "eye. Move the place or leave it out."
        ),
        files=pattern_with("[[15.0, -2.0]]"),
    ),
    Case(
        "pattern off screen",
        run_words(),
        (
            "mine: place (0, 30) deg at distance_cm: got 35; allowed: 10 to 22.5 cm on this"
            " screen. The lit area is 53 x 29.8125 cm: move the eye to 22.5 cm or nearer, "
            "or use a larger screen."
        ),
        files=pattern_with("[[0.0, 30.0]]"),
    ),
    Case(
        "pattern beyond",
        run_words(),
        (
            "pattern.toml, places_deg[0][1]: got 95; allowed: a number -80 to 80. Change "
            "it; the unit is degrees of visual angle."
        ),
        files=pattern_with("[[0.0, 95.0]]"),
    ),
    Case(
        "pattern unknown key",
        run_words(),
        (
            'pattern.toml, places: got "an unknown key"; allowed: about, format, name, '
            "places_deg, rings. Did you mean places_deg?"
        ),
        files={"pattern.toml": PATTERN.replace("places_deg", "places")},
    ),
    Case(
        "reference missing",
        run_words(reference="ours.toml"),
        'reference: got "ours.toml"; allowed: a file that exists. Check the path.',
    ),
    Case(
        "reference age",
        run_words(age="98"),
        (
            "age: got 98; allowed: 10 to 95 years, the ages of synthetic-1. Use a reference"
            " that covers this age."
        ),
    ),
    Case(
        "reference wrong",
        run_words(reference="ours.toml"),
        'ours.toml, about: got nothing; allowed: text. Add about.',
        files={"ours.toml": 'format = 1\nname = "ours"\n'},
    ),
]
