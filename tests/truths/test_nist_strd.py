"""The fitting route against NIST's Statistical Reference Datasets.

Source: NIST/ITL StRD, https://www.itl.nist.gov/div898/strd/ (public domain): linear set Norris,
nonlinear sets MGH09, Thurber and Eckerle4, all three of "higher level of difficulty". Data, both
starting points, certified estimates, standard deviations and residual sums copied from NIST's
data files; Norris from the copy that comes with SciPy. Certified values have 11 digits (Norris
15); each set is also a check on its own digits, because certified parameters must be where the
residual sum is least and equal to the certified one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from calibration.nonlinear import NonlinearFit, fit_nonlinear
from protocols.errors import InputError

AREA = "Display"
SOURCE = "NIST/ITL Statistical Reference Datasets"


@dataclass(frozen=True)
class Certified:
    """One NIST data set: model(b, x), data, starts, certified numbers."""

    name: str
    model: Callable
    x: np.ndarray
    y: np.ndarray
    starts: tuple[list[float], ...]
    parameters: list[float]
    deviations: list[float]
    residual_sum: float
    residual_sd: float

    def fit(self, start: list[float]) -> NonlinearFit:
        return fit_nonlinear(lambda b: self.model(b, self.x), self.y, start)


NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8
339.3 448.9 10.8 557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6
228.9 668.4 449.2 0.2"""
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9
338.0 447.5 11.6 556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3
229.2 669.1 448.9 0.5"""
MGH09_Y = ".1957 .1947 .1735 .16 .0844 .0627 .0456 .0342 .0323 .0235 .0246"
MGH09_X = "4 2 1 .5 .25 .167 .125 .1 .0833 .0714 .0625"
THURBER_Y = """80.574 84.248 87.264 87.195 89.076 89.608 89.868 90.101 92.405 95.854 100.696
101.060 401.672 390.724 567.534 635.316 733.054 759.087 894.206 990.785 1090.109 1080.914 1122.643
1178.351 1260.531 1273.514 1288.339 1327.543 1353.863 1414.509 1425.208 1421.384 1442.962 1464.350
1468.705 1447.894 1457.628"""
THURBER_X = """-3.067 -2.981 -2.921 -2.912 -2.840 -2.797 -2.702 -2.699 -2.633 -2.481 -2.363 -2.322
-1.501 -1.460 -1.274 -1.212 -1.100 -1.046 -0.915 -0.714 -0.566 -0.545 -0.400 -0.309 -0.109 -0.103
0.010 0.119 0.377 0.790 0.963 1.006 1.115 1.572 1.841 2.047 2.200"""
ECKERLE4_Y = """.0001575 .0001699 .0002350 .0003102 .0004917 .0008710 .0017418 .0046400 .0065895
.0097302 .0149002 .0237310 .0401683 .0712559 .1264458 .2073413 .2902366 .3445623 .3698049 .3668534
.3106727 .2078154 .1164354 .0616764 .0337200 .0194023 .0117831 .0074357 .0022732 .0008800 .0004579
.0002345 .0001586 .0001143 .0000710"""
ECKERLE4_X = """400 405 410 415 420 425 430 435 436.5 438 439.5 441 442.5 444 445.5 447 448.5 450
451.5 453 454.5 456 457.5 459 460.5 462 463.5 465 470 475 480 485 490 495 500"""


def numbers(text: str) -> np.ndarray:
    return np.array([float(word) for word in text.split()])


def norris(b, x):
    return b[0] + b[1] * x


def mgh09(b, x):
    return b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3])


def thurber(b, x):
    top = b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3
    return top / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3)


def eckerle4(b, x):
    return b[0] / b[1] * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2)


SETS = [
    Certified(
        "Norris", norris, numbers(NORRIS_X), numbers(NORRIS_Y),
        ([0.0, 0.0], [5.0, -3.0]),
        [-0.262323073774029, 1.00211681802045],
        [0.232818234301152, 0.429796848199937e-3],
        26.6173985294224, 0.884796396144373,
    ),
    Certified(
        "MGH09", mgh09, numbers(MGH09_X), numbers(MGH09_Y),
        ([25, 39, 41.5, 39], [0.25, 0.39, 0.415, 0.39]),
        [1.9280693458e-1, 1.9128232873e-1, 1.2305650693e-1, 1.3606233068e-1],
        [1.1435312227e-2, 1.9633220911e-1, 8.0842031232e-2, 9.0025542308e-2],
        3.0750560385e-4, 6.6279236551e-3,
    ),
    Certified(
        "Thurber", thurber, numbers(THURBER_X), numbers(THURBER_Y),
        ([1000, 1000, 400, 40, 0.7, 0.3, 0.03], [1300, 1500, 500, 75, 1, 0.4, 0.05]),
        [1.2881396800e3, 1.4910792535e3, 5.8323836877e2, 7.5416644291e1, 9.6629502864e-1,
         3.9797285797e-1, 4.9727297349e-2],
        [4.6647963344, 3.9571156086e1, 2.8698696102e1, 5.5675370270, 3.1333340687e-2,
         1.4984928198e-2, 6.5842344623e-3],
        5.6427082397e3, 1.3714600784e1,
    ),
    Certified(
        "Eckerle4", eckerle4, numbers(ECKERLE4_X), numbers(ECKERLE4_Y),
        ([1, 10, 500], [1.5, 5, 450]),
        [1.5543827178, 4.0888321754, 4.5154121844e2],
        [1.5408051163e-2, 4.6803020753e-2, 4.6800518816e-2],
        1.4635887487e-3, 6.7629245447e-3,
    ),
]  # fmt: skip
STARTS = [
    pytest.param(given, start, id=f"{given.name}-start{number}")
    for given in SETS
    for number, start in enumerate(given.starts, 1)
]


@pytest.mark.parametrize(("given", "start"), STARTS)
def test_certified_values_are_found_from_both_starting_points(truth, request, given, start):
    found = given.fit(start)
    digits = -np.log10(np.max(np.abs(found.parameters / given.parameters - 1)) + 1e-16)
    print(f"{given.name} from {start}: {digits:.1f} digits")
    name = request.node.callspec.id.replace("-start", ", starting point ")
    truth(f"{name}: parameters", found.parameters, given.parameters, 1e-8, relative=True)
    truth(f"{name}: deviations", found.standard_errors, given.deviations, 1e-7, relative=True)
    truth(f"{name}: residual sum", found.residual_sum, given.residual_sum, 1e-9, relative=True)
    truth(f"{name}: residual SD", found.residual_sd, given.residual_sd, 1e-9, relative=True)


@pytest.mark.parametrize("given", SETS, ids=lambda s: s.name)
def test_typed_in_data_reproduce_the_certified_residual_sum(given):
    """A mistyped digit of a reading would show here, whatever the fitting route does."""
    left = given.y - given.model(np.array(given.parameters), given.x)
    assert left @ left == pytest.approx(given.residual_sum, rel=1e-9)


@pytest.mark.parametrize("given", SETS[1:], ids=lambda s: s.name)
def test_weights_all_alike_change_nothing_but_the_residual_scale(given):
    plain = given.fit(given.starts[1])
    scaled = fit_nonlinear(
        lambda b: given.model(b, given.x), given.y, given.starts[1], standard=7.0
    )
    assert scaled.parameters == pytest.approx(plain.parameters, rel=1e-7)
    assert scaled.standard_errors == pytest.approx(plain.standard_errors, rel=1e-6)
    assert scaled.residual_sd == pytest.approx(plain.residual_sd / 7, rel=1e-7)


def test_norris_by_the_normal_equations_is_the_same():
    """A second route: the closed form of a straight line."""
    given = SETS[0]
    design = np.stack([np.ones_like(given.x), given.x], axis=1)
    by_hand = np.linalg.solve(design.T @ design, design.T @ given.y)
    assert given.fit(given.starts[0]).parameters == pytest.approx(by_hand, rel=1e-9)


def test_too_few_readings_are_refused():
    with pytest.raises(InputError, match="readings: got 2; allowed: more than 2"):
        fit_nonlinear(lambda b: b[0] + b[1] * np.arange(2.0), [0.0, 1.0], [0.0, 0.0])


def test_parameters_that_cannot_be_told_apart_are_refused():
    x = np.arange(6.0)
    with pytest.raises(InputError, match="do not tell the parameters apart"):
        fit_nonlinear(lambda b: (b[0] + b[1]) * x, x**1.1, [1.0, 1.0])
