"""What on a chart speaks against its process being steady, as it is seen in the shop."""

from typing import Final

from qclog.questions.codes import ChartSign

CHART_SIGNS: Final = {
    ChartSign.SUM: "it reads otherwise than before",
    ChartSign.BEYOND: "a point stands farther out than chance takes it",
    ChartSign.WEIGHTED: "the newest points together stand off the usual",
    ChartSign.SPREAD: "the readings of one day lie farther apart, or closer, than usual",
    ChartSign.VECTOR: "its high spot has moved, or how far it stands off",
    ChartSign.TWO_OF_THREE: "two of three points in a row stand well off the usual, on one side",
    ChartSign.FOUR_OF_FIVE: "four of five points in a row stand off the usual, on one side",
    ChartSign.IN_A_ROW: "nine points in a row stand on one side of the usual",
}
CHART_SIGNS_OF_SWINGS: Final = {
    ChartSign.SUM: "it runs worse than before",
    ChartSign.BEYOND: "it read higher than chance takes it",
}
"""The same of run-out, where only worsening is looked for."""
