"""Tables: the same cells as aligned text and as HTML; exact by hand."""

from html.parser import HTMLParser

import pytest

from runoff.saying.tables import Table

TABLE = Table(
    head=["layer", "dry, kg/m2", ""],
    rows=[["medium", "64.0", "a"], ["<mat> & fleece", "1.5", ""], ["total", "65.5", "b"]],
    align="<><",
    title="Loads",
    notes=["Defer to an engineer."],
    totals=1,
)


def test_text_is_aligned_and_has_no_blanks_at_the_end() -> None:
    assert TABLE.text() == (
        "layer           dry, kg/m2\n"
        "medium                64.0  a\n"
        "<mat> & fleece         1.5\n"
        "total                 65.5  b"
    )
    assert TABLE.text("  ").splitlines()[1].startswith("  medium")
    assert str(TABLE).startswith("Loads\n\nlayer") and str(TABLE).endswith("b\n\nDefer to an engineer.")


def test_heads_of_several_lines_stand_at_their_foot() -> None:
    table = Table(head=["medium\ndepth\nmm", "dry"], rows=[["80", "1"]], align=">>")
    assert table.text() == "medium\n depth\n    mm  dry\n    80    1"
    assert "medium<br>depth<br>mm" in table.html()


def test_a_table_without_heads_has_no_line_for_them() -> None:
    bare = Table(head=["", ""], rows=[["rain", "3 mm"]])
    assert bare.text() == "rain  3 mm" and "<thead>" not in bare.html()


class _Cells(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.cells: list[str] = []
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.open.append(tag)
        if tag in ("th", "td"):
            self.cells.append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, "tags close in the order they were opened"

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] in ("th", "td"):
            self.cells[-1] += data


def test_html_holds_the_same_cells_and_escapes_them() -> None:
    page = _Cells()
    page.feed(TABLE._repr_html_())
    assert page.cells == [*TABLE.head, *(cell for row in TABLE.rows for cell in row)]
    assert not page.open and "&lt;mat&gt; &amp; fleece" in TABLE.html() and "Defer to an engineer." in TABLE.html()


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^table: every row and the alignment need 2 columns, one for each head$"):
        Table(head=["a", "b"], rows=[["1"]])
