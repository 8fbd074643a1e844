"""Every code of uncertainty, study and chart has its words."""

from qclog.questions.codes import Cause, ChartSign, NotTold, Source
from reports.wording.chart import CHART_SIGNS
from reports.wording.study import CAUSES, MEND, NOT_TOLD, SOURCES


def test_every_line_of_a_budget_has_words() -> None:
    assert set(SOURCES) == set(Source)


def test_every_cause_has_a_name_and_something_to_mend() -> None:
    assert set(CAUSES) == set(MEND) == set(Cause)


def test_every_reason_why_a_cause_was_not_told_apart_has_words() -> None:
    assert set(NOT_TOLD) == set(NotTold)


def test_every_sign_of_a_chart_has_words() -> None:
    assert set(CHART_SIGNS) == set(ChartSign)
