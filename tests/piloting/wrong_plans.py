"""Wrong plans, each with the whole line it must meet."""

from __future__ import annotations

from dataclasses import dataclass, field

PLAN = """\
format = 1
name = "small"
seed = 5
people = 120
repeats = 2
prevalence = 0.05

[[protocols]]
protocol = "screen-19"

[[protocols]]
protocol = "bayes-19"

[protocols.grid]
"procedure.end_sd_db" = [2.5, 4.0]

[robustness]
people = 100
lapse_rates = [0.1]
false_press_rates = [0.2]
"""


@dataclass(frozen=True)
class Wrong:
    """A change of the plan, or other words on the command line, and what is said of it."""

    name: str
    error: str
    changes: dict[str, str] = field(default_factory=dict)
    words: tuple[str, ...] = ("pilot", "plan.toml", "--out", "out")
    files: dict[str, str] = field(default_factory=dict)

    @property
    def plan(self) -> str:
        text = PLAN
        for old, new in self.changes.items():
            assert old in text
            text = text.replace(old, new)
        return text


GRID = '"procedure.end_sd_db" = [2.5, 4.0]'
BAYES = f'"bayes-19"\n\n[protocols.grid]\n{GRID}'
BOTH = f'[[protocols]]\nprotocol = "screen-19"\n\n[[protocols]]\nprotocol = {BAYES}'
CASES = [
    Wrong(
        "no plan",
        'PLAN.toml: got "nowhere.toml"; allowed: a file that exists. Check the path.',
        words=("pilot", "nowhere.toml", "--out", "out"),
    ),
    Wrong(
        "not toml",
        (
            'plan.toml: got "Invalid value (at line 4, column 10)"; allowed: TOML 1.0. Mend '
            "the line it names."
        ),
        {"people = 120": "people = "},
    ),
    Wrong(
        "newer format",
        (
            "plan.toml, format: got 2; allowed: up to 1. It was made by a newer version: use "
            "that one."
        ),
        {"format = 1": "format = 2"},
    ),
    Wrong(
        "no seed",
        "plan.toml, seed: got nothing; allowed: a whole number 0 to 2147483647. Add seed.",
        {"seed = 5\n": ""},
    ),
    Wrong(
        "unknown key",
        (
            'plan.toml, repeat: got "an unknown key"; allowed: about, format, margins, name, '
            "people, population, prevalence, protocols, repeats, robustness, seed. Did you "
            "mean repeats?"
        ),
        {"repeats": "repeat"},
    ),
    Wrong(
        "too few people",
        "plan.toml, people: got 99; allowed: a whole number 100 to 1000000. Change it.",
        {"people = 120": "people = 99"},
    ),
    Wrong(
        "people as text",
        'plan.toml, people: got "120"; allowed: a whole number 100 to 1000000. Change it.',
        {"people = 120": 'people = "120"'},
    ),
    Wrong(
        "too many repeats",
        "plan.toml, repeats: got 21; allowed: a whole number 1 to 20. Change it.",
        {"repeats = 2": "repeats = 21"},
    ),
    Wrong(
        "prevalence in per cent",
        "plan.toml, prevalence: got 5; allowed: a number 0.0001 to 0.9999. Change it.",
        {"prevalence = 0.05": "prevalence = 5"},
    ),
    Wrong(
        "no protocols",
        "plan.toml, protocols: got []; allowed: a list of 1 to 64. Change it.",
        {BOTH: "protocols = []"},
    ),
    Wrong(
        "unknown protocol",
        (
            'plan.toml, protocols[0].protocol: got "screen-20"; allowed: bayes-19, decide-19, '
            "joint-19, screen-17, screen-19, staircase-19, or the path of a .toml file. Check "
            "the spelling or the path."
        ),
        {'"screen-19"': '"screen-20"'},
    ),
    Wrong(
        "protocol twice",
        (
            'plan.toml, protocols: got "screen-19 twice"; allowed: each protocol and each '
            "point once. Leave one of them out, or rename one."
        ),
        {BAYES: '"screen-19"'},
    ),
    Wrong(
        "value out of range",
        (
            "plan.toml, protocols[1].grid (bayes-19 end_sd_db=40.0), procedure.end_sd_db: got "
            "40; allowed: a number 0.05 to 20. Change it; the unit is contrast dB."
        ),
        {GRID: '"procedure.end_sd_db" = [2.5, 40.0]'},
    ),
    Wrong(
        "unknown key in the grid",
        (
            'plan.toml, protocols[1].grid (bayes-19 end_sd=2.5), procedure.end_sd: got "an '
            'unknown key"; allowed: end_sd_db, false_press_rate, grid_step_db, lapse_rate, '
            "least, most, placement, prior_above_limit_db, prior_floor, prior_sd_db, "
            "spread_db. Did you mean end_sd_db?"
        ),
        {GRID: '"procedure.end_sd" = [2.5]'},
    ),
    Wrong(
        "no values",
        (
            'plan.toml, protocols[1].grid, procedure.end_sd_db: got "no value"; allowed: one '
            "or more. List values."
        ),
        {GRID: '"procedure.end_sd_db" = []'},
    ),
    Wrong(
        "another name",
        (
            'plan.toml, protocols[1].grid: got "name"; allowed: a key that changes how an exam '
            "is run. Leave it out."
        ),
        {GRID: '"name" = ["a", "b"]'},
    ),
    Wrong(
        "key too deep",
        (
            'plan.toml, protocols[1].grid: got "procedure.a.b"; allowed: a key of the protocol '
            "file, such as procedure.most. See: ripplefield schema protocol"
        ),
        {GRID: '"procedure.a.b" = [1]'},
    ),
    Wrong(
        "unknown pattern",
        (
            'plan.toml, protocols[1].grid (bayes-19 pattern=rings18), pattern: got "rings18"; '
            "allowed: rings17, rings19, or the path of a .toml file. Check the spelling or the "
            "path."
        ),
        {GRID: '"pattern" = ["rings18"]'},
    ),
    Wrong(
        "too many variants",
        'plan.toml, protocols: got "65 variants"; allowed: up to 64 in all. Try fewer values.',
        {
            GRID: '"procedure.end_sd_db" = [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5]\n'
            '"procedure.most" = [5, 6, 7, 8, 9, 10, 11, 12]'
        },
    ),
    Wrong(
        "unknown shape",
        (
            'plan.toml, population.mix.healthi: got "an unknown key"; allowed: both_arcs, '
            "diffuse, half_field, healthy, isolated, lower_arc, nasal_step, patches, "
            "upper_arc. Did you mean healthy?"
        ),
        {"[robustness]": "[population.mix]\nhealthi = 1.0\n\n[robustness]"},
    ),
    Wrong(
        "mix does not sum to 1",
        (
            'plan.toml, population.mix: got "0.9"; allowed: shares that sum to 1. Correct the '
            "shares."
        ),
        {"[robustness]": "[population.mix]\nhealthy = 0.5\ndiffuse = 0.4\n\n[robustness]"},
    ),
    Wrong(
        "nobody with loss",
        (
            'plan.toml, population.mix.healthy: got "1"; allowed: 0.1 to 0.9. Draw people of '
            "both kinds; prevalence says how rare loss is in the lab."
        ),
        {"[robustness]": "[population.mix]\nhealthy = 1.0\n\n[robustness]"},
    ),
    Wrong(
        "hardly anybody with loss",
        (
            'plan.toml, people: got "120, of them 13 with loss"; allowed: 20 or more of each '
            "kind. Draw more people or change the mix."
        ),
        {"[robustness]": "[population.mix]\nhealthy = 0.9\ndiffuse = 0.1\n\n[robustness]"},
    ),
    Wrong(
        "ages the wrong way",
        (
            'plan.toml, population.to_age_years: got "40"; allowed: from_age_years, 60, and '
            "up. Name the older age last."
        ),
        {"[robustness]": "[population]\nfrom_age_years = 60\nto_age_years = 40\n\n[robustness]"},
    ),
    Wrong(
        "too old",
        (
            "plan.toml, population.to_age_years: got 99; allowed: a number 10 to 95. Change "
            "it; the unit is years."
        ),
        {"[robustness]": "[population]\nto_age_years = 99\n\n[robustness]"},
    ),
    Wrong(
        "slips above a half",
        "plan.toml, robustness.lapse_rates[0]: got 0.6; allowed: a number 0 to 0.5. Change it.",
        {"lapse_rates = [0.1]": "lapse_rates = [0.6]"},
    ),
    Wrong(
        "more people than there are",
        (
            'plan.toml, robustness.people: got "200"; allowed: up to people, 120. Draw more '
            "people or ask fewer of them again."
        ),
        {"people = 100": "people = 200"},
    ),
    Wrong(
        "a margin below 0",
        "plan.toml, margins.seconds: got -1; allowed: a number 0 to 600. Change it.",
        {"[robustness]": "[margins]\nseconds = -1\n\n[robustness]"},
    ),
    Wrong(
        "no folder named",
        (
            "--out: got nothing; allowed: a folder for the pilot. Add --out. See: ripplefield "
            "pilot --help"
        ),
        words=("pilot", "plan.toml"),
    ),
    Wrong(
        "folder holds something",
        (
            '--out: got "full"; allowed: a folder that is new, empty, or of a pilot that was '
            "stopped. Name another folder."
        ),
        words=("pilot", "plan.toml", "--out", "full"),
        files={"full/a.txt": "precious"},
    ),
    Wrong(
        "folder is a file",
        (
            '--out: got "a.txt"; allowed: a folder that is new, empty, or of a pilot that was '
            "stopped. Name another folder."
        ),
        words=("pilot", "plan.toml", "--out", "a.txt"),
        files={"a.txt": "precious"},
    ),
    Wrong(
        "finished pilot there",
        (
            '--out: got "done, which holds a finished pilot"; allowed: a folder that is new, '
            "empty, or of a pilot that was stopped. Name another folder."
        ),
        words=("pilot", "plan.toml", "--out", "done"),
        files={"done/pilot.json": "{}"},
    ),
    Wrong(
        "workers and cluster",
        (
            "--workers: got 2; allowed: one of --workers and --cluster. Leave it out: the "
            "cluster has its own."
        ),
        words=(
            "pilot",
            "plan.toml",
            "--out",
            "out",
            "--workers",
            "2",
            "--cluster",
            "tcp://127.0.0.1:9",
        ),
    ),
    Wrong(
        "seed below 0",
        (
            '--seed: got "-1"; allowed: a whole number from 0 to 2147483647. Leave it out for '
            "the plan's."
        ),
        words=("pilot", "plan.toml", "--out", "out", "--seed", "-1"),
    ),
]
