"""Variance components of published studies: crossed, and nested twice.

The crossed study of ten parts, three persons and three trials: the automotive industry's reference manual on
measurement systems analysis, 4th edition, chapter III-B (data from memory, identical in several public listings of its
table; its results likewise). NIST/SEMATECH e-Handbook: 3.5.1 (furnace, two printed mean squares), 2.4.4 and 2.6.3
(resistivity of wafers, probe 2362; printed standard deviations).
"""

import numpy as np
import pytest

from qclog.statistics.studying.components import variance_components

# fmt: off
CROSSED = {  # person: rows are trials, columns are parts
    'A': [[0.29, -0.56, 1.34, 0.47, -0.80, 0.02, 0.59, -0.31, 2.26, -1.36],
          [0.41, -0.68, 1.17, 0.50, -0.92, -0.11, 0.75, -0.20, 1.99, -1.25],
          [0.64, -0.58, 1.27, 0.64, -0.84, -0.21, 0.66, -0.17, 2.01, -1.31]],
    'B': [[0.08, -0.47, 1.19, 0.01, -0.56, -0.20, 0.47, -0.63, 1.80, -1.68],
          [0.25, -1.22, 0.94, 1.03, -1.20, 0.22, 0.55, 0.08, 2.12, -1.62],
          [0.07, -0.68, 1.34, 0.20, -1.28, 0.06, 0.83, -0.34, 2.19, -1.50]],
    'C': [[0.04, -1.38, 0.88, 0.14, -1.46, -0.29, 0.02, -0.46, 1.77, -1.49],
          [-0.11, -1.13, 1.09, 0.20, -1.07, -0.67, 0.01, -0.56, 1.45, -1.77],
          [-0.15, -0.96, 0.67, 0.11, -1.45, -0.49, 0.21, -0.49, 1.87, -2.16]]
}
FURNACE = np.array([  # a row a run; zone 1 wafer 1 and 2, zone 2 wafer 1 and 2, ...
    [546, 540, 566, 564, 577, 546, 543, 529],
    [561, 556, 577, 553, 563, 577, 556, 540],
    [515, 520, 548, 542, 505, 487, 506, 514],
    [568, 584, 570, 545, 589, 562, 569, 571],
    [550, 550, 562, 580, 560, 554, 545, 546],
    [584, 581, 567, 558, 556, 560, 591, 599],
    [593, 626, 584, 559, 634, 598, 569, 592],
    [522, 535, 535, 581, 527, 520, 532, 539],
    [562, 568, 548, 548, 533, 553, 533, 521],
    [555, 545, 584, 572, 546, 552, 586, 584],
    [565, 557, 583, 585, 582, 567, 549, 533],
    [548, 528, 563, 588, 543, 540, 585, 586],
    [580, 570, 556, 569, 609, 625, 570, 595],
    [564, 555, 585, 588, 564, 583, 563, 558],
    [550, 557, 538, 525, 556, 547, 534, 542],
    [552, 547, 563, 578, 571, 572, 575, 584],
    [549, 546, 584, 593, 567, 548, 606, 607],
    [539, 554, 533, 535, 522, 521, 547, 550],
    [610, 592, 587, 587, 572, 612, 566, 563],
    [569, 609, 558, 555, 577, 579, 552, 558],
    [595, 583, 599, 602, 598, 616, 580, 575]
], dtype=float)
RESISTIVITY = {  # (run, wafer): daily averages of six repetitions, and their standard deviations
    (1,138): ([95.1162, 95.0569, 95.0598, 95.1487, 95.0743, 95.101],
        [0.048, 0.0577, 0.0516, 0.0386, 0.0256, 0.042]),
    (1,139): ([99.2939, 99.3234, 99.2748, 99.3512, 99.235, 99.3574],
        [0.0818, 0.0723, 0.0756, 0.0475, 0.0517, 0.0485]),
    (1,140): ([96.0771, 95.9976, 96.0148, 96.0397, 96.0407, 96.0445],
        [0.1024, 0.0943, 0.0622, 0.0702, 0.0627, 0.0622]),
    (1,141): ([101.0471, 101.0224, 101.0702, 101.0904, 101.0626, 101.0686],
        [0.032, 0.102, 0.058, 0.1049, 0.0702, 0.0661]),
    (1,142): ([94.2437, 94.2115, 94.2348, 94.2124, 94.2214, 94.1651],
        [0.0503, 0.0919, 0.0282, 0.0513, 0.0627, 0.101]),
    (2,138): ([95.1687, 95.1564, 95.1354, 95.0422, 95.1354, 95.1075],
        [0.0785, 0.043, 0.0983, 0.0773, 0.0587, 0.0776]),
    (2,139): ([99.3408, 99.3116, 99.3241, 99.2991, 99.3049, 99.2782],
        [0.1279, 0.1131, 0.0519, 0.0903, 0.0783, 0.0718]),
    (2,140): ([96.0793, 96.1115, 96.0803, 96.0411, 96.0988, 96.0482],
        [0.0996, 0.0533, 0.0364, 0.0768, 0.1042, 0.0868]),
    (2,141): ([101.1353, 101.1201, 101.0946, 100.9977, 101.0963, 101.03],
        [0.0585, 0.0868, 0.0855, 0.0645, 0.0638, 0.0549]),
    (2,142): ([94.2052, 94.2824, 94.2396, 94.2087, 94.2937, 94.233],
        [0.0813, 0.0605, 0.0882, 0.0702, 0.0591, 0.0556])
}
# fmt: on
DATA = np.array([CROSSED[person] for person in "ABC"])  # persons, trials, parts
PERSON, TRIAL, PART = (label.ravel() for label in np.indices(DATA.shape))


def test_the_mean_squares_of_the_crossed_study_are_the_published_ones() -> None:
    """Published 1.58363, 9.81799, 0.01994, 0.04598 with 2, 9, 18, 60 degrees of freedom."""
    both = PERSON * 10 + PART
    found = variance_components(DATA.ravel(), {"person": PERSON, "part": PART, "both": both}, rest="trial")
    assert [(one.name, one.df) for one in found.strata] == [("person", 2), ("part", 9), ("both", 18), ("trial", 60)]
    printed = [1.58363, 9.81799, 0.01994, 0.04598]
    assert [one.mean_square for one in found.strata] == pytest.approx(printed, abs=6e-6)


def test_the_crossed_study_with_the_interaction_pooled_into_the_trials() -> None:
    """The manual pools the interaction into the rest (78 degrees of freedom) and tests both factors against that.

    Published standard deviations: equipment 0.199933, persons 0.226838, both together 0.302373, parts 1.042327.
    """
    found = variance_components(DATA.ravel(), {"person": PERSON, "part": PART}, rest="trial")
    person, part, trial = (one.variance**0.5 for one in found.estimates)
    assert found.strata[-1].df == 78
    assert (trial, person, part) == pytest.approx((0.199933, 0.226838, 1.042327), abs=6e-7)
    assert found.sum_of(["person", "trial"]).variance ** 0.5 == pytest.approx(0.302373, abs=2e-6)
    assert found.total.variance**0.5 == pytest.approx(1.085, abs=5e-4)


def test_the_crossed_study_with_the_interaction_kept() -> None:
    """Denominators of the random model, the interaction's own component negative and shown as 0 (recomputed)."""
    both = PERSON * 10 + PART
    found = variance_components(DATA.ravel(), {"person": PERSON, "part": PART, "both": both}, rest="trial")
    assert found.moments[2] == pytest.approx(-0.0086796, abs=6e-8)
    sds = [one.variance**0.5 for one in found.estimates]
    assert sds == pytest.approx([0.228305, 1.043394, 0.0, 0.214435], abs=6e-7)


def test_parts_with_means_of_their_own_leave_the_same_to_persons_and_trials() -> None:
    """What this program does with places: their part in the scatter is none of the measuring's."""
    both = PERSON * 10 + PART
    found = variance_components(DATA.ravel(), {"person": PERSON, "both": both}, fixed=PART, rest="trial")
    assert [one.variance**0.5 for one in found.estimates] == pytest.approx([0.228305, 0.0, 0.214435], abs=6e-7)


def test_the_furnace_of_the_handbook() -> None:
    """Printed mean squares 571.659 (zone in run) and 120.893 (within); components recomputed from them."""
    run, place = np.indices(FURNACE.shape)
    zone = run * 4 + place // 2
    found = variance_components(FURNACE.ravel(), {"run": run.ravel(), "zone": zone.ravel()}, rest="wafer")
    assert [one.df for one in found.strata] == [20, 63, 84]
    assert [one.mean_square for one in found.strata] == pytest.approx([3072.1143, 571.659, 120.893], abs=5e-4)
    assert [one.variance for one in found.estimates] == pytest.approx([312.5569, 225.3829, 120.8929], abs=5e-5)
    shares = [one.variance / found.total.variance for one in found.estimates]
    assert shares == pytest.approx([0.4744, 0.3421, 0.1835], abs=6e-5)


def test_the_nested_study_of_a_probe_in_the_handbook() -> None:
    """Printed: s1 0.0729 (300 degrees of freedom), s2 0.0362 (50), s3 0.0197 (5)."""
    rows = [(run, wafer, day) for (run, wafer), (days, _) in RESISTIVITY.items() for day in days]
    run, wafer, day = (np.array(column) for column in zip(*rows, strict=True))
    found = variance_components(day, {"run": wafer * 10 + run}, fixed=wafer, rest="day")
    runs, days = found.strata
    assert (runs.df, days.df) == (5, 50)
    assert days.mean_square**0.5 == pytest.approx(0.0362, abs=5e-5)
    assert (runs.mean_square / 6) ** 0.5 == pytest.approx(0.0197, abs=6e-5)
    repetitions = np.array([sd for _, sds in RESISTIVITY.values() for sd in sds])
    assert repetitions.size * 5 == 300
    assert float(np.sqrt(np.mean(repetitions**2))) == pytest.approx(0.0729, abs=5e-5)
