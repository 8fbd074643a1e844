"""Tables on a narrow terminal: they fit, what goes goes in its order, and it is said that it went."""

from reports.tables import fitted, fitting

TABLE = {"place": ["LATHE-A N", "B"], "mean": ["4.25", "12"], "sd": ["0.3", "-"], "": ["alarm", ""]}


def test_a_table_with_room_has_all_its_columns_and_no_word_on_them() -> None:
    assert fitted(TABLE, 80, ("sd", "mean"), right=("mean", "sd")) == [
        "place      mean   sd",
        "LATHE-A N  4.25  0.3  alarm",
        "B            12    -",
    ]


def test_what_has_no_room_is_left_out_in_its_order_and_named_as_it_stood() -> None:
    assert fitted(TABLE, 27, ("sd", "mean"))[0] == "place      mean  sd"
    assert fitted(TABLE, 26, ("sd", "mean")) == [
        "place      mean",
        "LATHE-A N  4.25  alarm",
        "B          12",
        "(Left out: sd; wider",
        "terminal, or --json.)",
    ]
    lines = fitted(TABLE, 20, ("sd", "mean"))
    assert lines[0] == "place"
    assert "(Left out: mean, sd;" in lines


def test_where_most_columns_have_no_room_the_cells_of_a_row_stand_under_each_other() -> None:
    wide = TABLE | {"least": ["4.0", "-"], "most": ["5.2", "12"], "": ["alarm", ""]}
    order = ("sd", "least", "most", "mean")
    assert fitted(wide, 22, order, down_the_page=True)[0] == "place      mean"
    assert fitted(wide, 21, order, down_the_page=True) == [
        "LATHE-A N",
        "  mean   4.25",
        "  sd     0.3",
        "         alarm",
        "  least  4.0",
        "  most   5.2",
        "B",
        "  mean   12",
        "  most   12",
    ]


def test_a_column_that_can_be_folded_makes_room_for_others() -> None:
    verdicts = {"item": ["C-1"], "verdict": ["DOES NOT HOLD 8 µm IN THIS SITTING"], "last": ["2026-03-02"]}
    assert list(fitting(verdicts, 40, ("last",))[0]) == ["item", "verdict"]
    assert fitting(verdicts, 40, ("last",), narrowed={"verdict": 20}) == (verdicts, [])


def test_columns_that_say_nothing_alone_are_left_out_together() -> None:
    table = {"what": ["depth"], "from": ["12.001"], "to": ["12.004"], "limits": ["12.00 to 12.05 mm"]}
    kept, said = fitting(table, 34, [("from", "to"), "limits"])
    assert list(kept) == ["what", "limits"]
    assert "from, to" in " ".join(said)
