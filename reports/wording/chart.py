"""What on a chart speaks against its process being steady."""

from typing import Final

from qclog.questions.codes import ChartSign

CHART_SIGNS: Final = {
    ChartSign.SUM: "what points lie off those before them adds up beyond its limit",
    ChartSign.BEYOND: "a point lies beyond the limits",
    ChartSign.WEIGHTED: "the mean that weighs the newest points most lies beyond its limits",
    ChartSign.SPREAD: "what the values of a day scatter lies beyond its limits",
    ChartSign.VECTOR: "its high spot or its eccentricity has moved",
    ChartSign.TWO_OF_THREE: "two of three points in a row lie beyond two standard deviations on one side",
    ChartSign.FOUR_OF_FIVE: "four of five points in a row lie beyond one standard deviation on one side",
    ChartSign.IN_A_ROW: "nine points in a row lie on one side",
}
"""What on a chart speaks against its process being steady."""
