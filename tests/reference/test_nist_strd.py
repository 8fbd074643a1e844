"""Mean and standard deviation against the certified univariate sets of NIST's Statistical Reference Datasets.

Data and certified values are works of the US government in the public domain; headers of NumAcc2, NumAcc3,
NumAcc4 and PiDigits were read in a stored copy, the rest is from memory. Agreement is counted in digits,
as the signed log relative error. Targets: 14 for well-posed sets; NumAcc3 and NumAcc4 have decimals that
doubles cannot hold, so that exact arithmetic on the doubles themselves gives 9.4 and 8.2 digits.
"""

from fractions import Fraction
from math import log10

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.summaries import mean_and_sd

MAVRO = """
2.0018 2.0017 2.0018 2.0019 2.0018 2.0017 2.0015 2.0014 2.0015 2.0015 2.0017 2.0018 2.0018 2.0019
2.0019 2.0021 2.002 2.0016 2.0014 2.0013 2.0013 2.0015 2.0015 2.0016 2.0015 2.0014 2.0013 2.0014
2.0015 2.0014 2.0015 2.0016 2.0015 2.0016 2.0019 2.002 2.002 2.0021 2.0022 2.0023 2.0024 2.0025
2.0027 2.0026 2.0026 2.0026 2.0027 2.0026 2.0025 2.0024
"""

MICHELSO = """
299.85 299.74 299.9 300.07 299.93 299.85 299.95 299.98 299.98 299.88 300 299.98 299.93 299.65 299.76
299.81 300 300 299.96 299.96 299.96 299.94 299.96 299.94 299.88 299.8 299.85 299.88 299.9 299.84
299.83 299.79 299.81 299.88 299.88 299.83 299.8 299.79 299.76 299.8 299.88 299.88 299.88 299.86
299.72 299.72 299.62 299.86 299.97 299.95 299.88 299.91 299.85 299.87 299.84 299.84 299.85 299.84
299.84 299.84 299.89 299.81 299.81 299.82 299.8 299.77 299.76 299.74 299.75 299.76 299.91 299.92
299.89 299.86 299.88 299.72 299.84 299.85 299.85 299.78 299.89 299.84 299.78 299.81 299.76 299.81
299.79 299.81 299.82 299.85 299.87 299.87 299.81 299.74 299.81 299.94 299.95 299.8 299.81 299.87
"""

LEW = """
-213 -564 -35 -15 141 115 -420 -360 203 -338 -431 194 -220 -513 154 -125 -559 92 -21 -579 -52 99
-543 -175 162 -457 -346 204 -300 -474 164 -107 -572 -8 83 -541 -224 180 -420 -374 201 -236 -531 83
27 -564 -112 131 -507 -254 199 -311 -495 143 -46 -579 -90 136 -472 -338 202 -287 -477 169 -124 -568
17 48 -568 -135 162 -430 -422 172 -74 -577 -13 92 -534 -243 194 -355 -465 156 -81 -578 -64 139 -449
-384 193 -198 -538 110 -44 -577 -6 66 -552 -164 161 -460 -344 205 -281 -504 134 -28 -576 -118 156
-437 -381 200 -220 -540 83 11 -568 -160 172 -414 -408 188 -125 -572 -32 139 -492 -321 205 -262 -504
142 -83 -574 0 48 -571 -106 137 -501 -266 190 -391 -406 194 -186 -553 83 -13 -577 -49 103 -515 -280
201 300 -506 131 -45 -578 -80 138 -462 -361 201 -211 -554 32 74 -533 -235 187 -372 -442 182 -147
-566 25 68 -535 -244 194 -351 -463 174 -125 -570 15 72 -550 -190 172 -424 -385 198 -218 -536 96
"""

LOTTERY = """
162 671 933 414 788 730 817 33 536 875 670 236 473 167 877 980 316 950 456 92 517 557 956 954 104
178 794 278 147 773 437 435 502 610 582 780 689 562 964 791 28 97 848 281 858 538 660 972 671 613
867 448 738 966 139 636 847 659 754 243 122 455 195 968 793 59 730 361 574 522 97 762 431 158 429
414 22 629 788 999 187 215 810 782 47 34 108 986 25 644 829 630 315 567 919 331 207 412 242 607 668
944 749 168 864 442 533 805 372 63 458 777 416 340 436 140 919 350 510 572 905 900 85 389 473 758
444 169 625 692 140 897 672 288 312 860 724 226 884 508 976 741 476 417 831 15 318 432 241 114 799
955 833 358 935 146 630 830 440 642 356 373 271 715 367 393 190 669 8 861 108 795 269 590 326 866 64
523 862 840 219 382 998 4 628 305 747 247 34 747 729 645 856 974 24 568 24 694 608 480 410 729 947
293 53 930 223 203 677 227 62 455 387 318 562 242 428 968
"""


def arctan_of_inverse(x: int, unity: int) -> int:
    power = total = unity // x
    order, sign = 1, 1
    while power:
        power //= x * x
        order, sign = order + 2, -sign
        total += sign * (power // order)
    return total


def leading_digits_of_pi() -> list[int]:
    """5000 digits, the 3 included, by Machin's formula in whole numbers."""
    unity = 10**5010
    pi = 4 * (4 * arctan_of_inverse(5, unity) - arctan_of_inverse(239, unity))
    first, second = divmod(pi // 10**11, 10**2500)  # Python writes out at most 4300 digits at once
    return [int(digit) for digit in f"{first}{second:02500d}"]


def nist_pi_digits() -> list[float]:
    digits = leading_digits_of_pi()
    assert digits[956] == 8
    digits[956] = 3  # so it stands in the file the values are certified for
    return [float(digit) for digit in digits]


def numbers(block: str) -> list[float]:
    return [float(word) for word in block.split()]


SETS: dict[str, tuple[list[float], int, str, str, float, float]] = {
    "PiDigits": (nist_pi_digits(), 5000, "4.53480000000000", "2.86733906028871", 14, 14),
    "Lottery": (numbers(LOTTERY), 218, "518.958715596330", "291.699727470969", 14, 14),
    "Lew": (numbers(LEW), 200, "-177.435000000000", "277.332168044316", 14, 14),
    "Mavro": (numbers(MAVRO), 50, "2.00185600000000", "0.000429123454003053", 14, 13),
    "Michelso": (numbers(MICHELSO), 100, "299.852400000000", "0.0790105478190518", 14, 13),
    "NumAcc1": ([10000001.0, 10000003.0, 10000002.0], 3, "10000002", "1", 15, 15),
    "NumAcc2": ([1.2] + [1.1, 1.3] * 500, 1001, "1.2", "0.1", 15, 15),
    "NumAcc3": ([1000000.2] + [1000000.1, 1000000.3] * 500, 1001, "1000000.2", "0.1", 15, 9.4),
    "NumAcc4": ([10000000.2] + [10000000.1, 10000000.3] * 500, 1001, "10000000.2", "0.1", 15, 8.2),
}


def agreeing_digits(found: float, certified: Fraction) -> float:
    """Signed log relative error: a wrong sign costs everything; at most 15, the digits of a double."""
    error = abs(Fraction(found) - certified) / abs(certified)
    return 15.0 if error < Fraction(1, 10**15) else -log10(error)


@pytest.mark.parametrize("name", SETS)
def test_mean_and_sd_agree_with_the_certified_values_to_the_digits_that_can_be_had(name: str) -> None:
    values, count, mean, sd, mean_digits, sd_digits = SETS[name]
    assert len(values) == count
    found_mean, found_sd = mean_and_sd(values)
    assert agreeing_digits(found_mean, Fraction(mean)) >= mean_digits - 0.2
    assert agreeing_digits(found_sd, Fraction(sd)) >= sd_digits - 0.2


@pytest.mark.parametrize("name", ["NumAcc3", "NumAcc4", "Mavro", "Michelso"])
def test_the_sd_is_that_of_exact_arithmetic_on_the_same_doubles(name: str) -> None:
    exact = [Fraction(value) for value in SETS[name][0]]
    mean = sum(exact, Fraction()) / len(exact)
    variance = sum(((value - mean) ** 2 for value in exact), Fraction()) / (len(exact) - 1)
    _, found = mean_and_sd(SETS[name][0])
    assert agreeing_digits(found**2, variance) >= 13.5


def test_a_sum_of_squares_in_one_pass_would_lose_what_is_kept_here() -> None:
    values = np.array(SETS["NumAcc4"][0])
    naive = (np.sum(values**2) - len(values) * values.mean() ** 2) / (len(values) - 1)
    assert not (naive > 0 and agreeing_digits(float(np.sqrt(naive)), Fraction("0.1")) > 3)


@pytest.mark.parametrize(
    ("values", "message"),
    [([], "0 given"), ([1.0], "1 given"), ([1.0, float("nan"), 2.0], "Value 2"), ([[1.0, 2.0]], "2 given")],
)
def test_too_few_values_and_values_that_are_not_finite_are_refused(values: list[float], message: str) -> None:
    with pytest.raises(NotAnswerableError, match=message):
        mean_and_sd(values)
