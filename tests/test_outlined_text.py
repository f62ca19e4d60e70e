"""Labels drawn from kept outlines look and measure as matplotlib's own, and a quick picture shows what a stored one shows."""

import io

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from PIL import Image

import runoff
from runoff.plots import build_up_section_figure, figure_style, png_bytes, quick_png_bytes, svg_bytes
from runoff.plots.label_spacing import advance_pt, pieces
from runoff.plots.outlined_text import OutlinedText

LINE = "Growing medium, 80 mm: 97.8 of 112 (pgy)"


def drawn(kind: type[Text], **style) -> tuple[np.ndarray, np.ndarray]:
    """Return the ink of one line, 0-1, and the box it says it takes, in dots."""
    with figure_style():
        figure = Figure(figsize=(7.0, 7.0), dpi=100)
        axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 504), ylim=(0, 504))
        axes.set_axis_off()
        line = kind(252.0, 252.0, LINE, fontsize=9.0, **style)
        axes.add_artist(line)
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        ink = 1.0 - np.asarray(canvas.buffer_rgba())[:, :, 0] / 255.0
        return ink, line.get_window_extent(canvas.get_renderer()).get_points()


@pytest.mark.parametrize("ha", ["left", "center", "right"])
@pytest.mark.parametrize("fontweight", ["normal", "bold"])
@pytest.mark.parametrize("rotation", [0, 90])
def test_a_line_stands_where_matplotlib_sets_it(ha: str, fontweight: str, rotation: int) -> None:
    style = {"ha": ha, "fontweight": fontweight, "rotation": rotation, "color": "black"}
    own, box = drawn(OutlinedText, **style)
    theirs, their_box = drawn(Text, va="center", rotation_mode="anchor", **style)
    np.testing.assert_allclose(box, their_box)
    assert own.sum() == pytest.approx(theirs.sum(), rel=0.08)  # as dark: outlines are filled without the font's hints
    for axis in (0, 1):
        places = np.arange(own.shape[axis])
        middle, their_middle = (np.average(places, weights=ink.sum(axis=1 - axis)) for ink in (own, theirs))
        assert middle == pytest.approx(their_middle, abs=1.0)  # letters of matplotlib start on whole dots


def test_pieces_put_together_are_as_wide_as_the_line() -> None:
    assert pieces("97.8 mm") == ["9", "7", ".", "8", " mm"]
    assert "".join(pieces(LINE)) == LINE
    # digits of the font stand on equal widths, and are not kerned
    assert sum(advance_pt(one, 9.0) for one in pieces(LINE)) == pytest.approx(advance_pt(LINE, 9.0))
    assert pieces("") == []


@pytest.mark.parametrize("hidden", ["", "   "])
def test_nothing_is_drawn_for_an_empty_line(hidden: str) -> None:
    figure = Figure(figsize=(1.0, 1.0))
    figure.add_artist(OutlinedText(0.5, 0.5, hidden, fontsize=9.0))
    FigureCanvasAgg(figure).draw()


def test_a_quick_picture_shows_what_a_stored_one_shows() -> None:
    figure = build_up_section_figure(runoff.open_sample_roof("cups"), water={"medium_water": 40.0, "board_water": 5.0})
    quick = Image.open(io.BytesIO(quick_png_bytes(figure, dpi=90)))
    stored = Image.open(io.BytesIO(png_bytes(figure, dpi=90)))
    assert quick.size == stored.size
    assert quick.text["Description"] == stored.text["Description"] == figure.description
    apart = np.abs(np.asarray(quick.convert("RGB")).astype(int) - np.asarray(stored.convert("RGB")).astype(int))
    # 128 colours: a few parts of 255 on average, and no dot changes from light to dark
    assert apart.mean() < 3.0
    assert apart.max() < 64
    assert quick.convert("RGB").getpixel((0, 0)) == (255, 255, 255)


def test_other_kinds_of_file_set_text_as_always() -> None:
    figure = build_up_section_figure(runoff.open_sample_roof("cups"))
    assert b"Growing medium, 80 mm" in svg_bytes(figure)  # matplotlib notes the words beside the glyphs it draws
