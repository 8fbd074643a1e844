"""Every code of uncertainty, study and chart has its words."""

from qclog.questions.codes import Cause, ChartSign, NotTold, Source
from reports import wording


def test_every_line_of_a_budget_has_words() -> None:
    assert set(wording.SOURCES) == set(Source)


def test_every_cause_has_a_name_and_something_to_mend() -> None:
    assert set(wording.CAUSES) == set(wording.MEND) == set(Cause)


def test_every_reason_why_a_cause_was_not_told_apart_has_words() -> None:
    assert set(wording.NOT_TOLD) == set(NotTold)


def test_every_sign_of_a_chart_has_words() -> None:
    assert set(wording.CHART_SIGNS) == set(ChartSign)
