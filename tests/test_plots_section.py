"""The cross-section: to scale, every layer named with its depth, no label over another or cut off."""

import itertools

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

import runoff
from runoff.plots import build_up_section_figure
from runoff.plots.label_spacing import fit, spread, text_width_pt, wrap
from runoff.plots.style import figure_style


def roofs() -> dict[str, runoff.Roof]:
    crowded = runoff.BuildUp(
        layers=[
            runoff.Planting(), runoff.Mulch(depth_mm=5.0), runoff.GrowingMedium(depth_mm=20.0), runoff.FilterFleece(),
            runoff.DrainageBoard(cups_up=False), runoff.ProtectionMat(), runoff.Membrane(),
            runoff.Insulation(thickness_mm=160.0),
        ]
    )  # fmt: skip
    return {
        **{name: runoff.open_sample_roof(name) for name in ("cups", "thin", "deep")},
        "crowded": runoff.Roof(name="A $name$ <b>of</b> a roof " * 12, build_up=crowded, emergency_overflow_mm=12.0),
    }


DROWNED = {
    "surface_water": 1.0, "medium_water": 12.0, "cup_water": 0.0, "mat_water": 3.0, "board_water": 4.0, "pond_water": 3.0,
}  # fmt: skip


def texts(figure) -> list[str]:
    return [text.get_text() for text in figure.axes[0].texts]


@pytest.mark.parametrize("units", ["si", "us"])
@pytest.mark.parametrize("water", [None, DROWNED], ids=["empty", "drowned"])
@pytest.mark.parametrize("name", ["cups", "thin", "deep", "crowded"])
def test_labels_never_overlap_and_are_never_cut(name: str, water: dict | None, units: str) -> None:
    figure = build_up_section_figure(roofs()[name], water=water, roots="at risk", units=units)
    with figure_style():
        renderer = FigureCanvasAgg(figure).get_renderer()
        figure.draw(renderer)
        boxes = {text.get_text(): text.get_window_extent(renderer) for text in figure.axes[0].texts}
    page = figure.bbox
    for words, box in boxes.items():
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= page.x1 and box.y1 <= page.y1, f"{words} is cut off"
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        apart = a.x1 <= b.x0 or b.x1 <= a.x0 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
        assert apart, f"{one} lies over {other}"


def test_every_layer_is_named_with_its_depth() -> None:
    words = texts(build_up_section_figure(runoff.open_sample_roof("cups")))
    for line in ("Mulch, 15 mm", "Growing medium, 80 mm", "Drainage board, 25 mm", "Protection mat, 5 mm"):
        assert line in words
    assert "Growing medium, 3.1 in" in texts(build_up_section_figure(runoff.open_sample_roof("cups"), units="us"))


def test_layers_are_drawn_to_one_scale() -> None:
    roof = runoff.open_sample_roof("cups")
    axes = build_up_section_figure(roof).axes[0]
    rectangles = [patch for patch in axes.patches if hasattr(patch, "get_height")]
    heights = sorted({round(patch.get_height(), 6) for patch in rectangles}, reverse=True)
    medium, board = roof.build_up.medium.depth_mm, roof.build_up.board.height_mm
    assert heights[0] / medium == pytest.approx(heights[1] / board)  # the two tallest boxes are medium and board
    assert axes.get_xlim()[1] / 72.0 == pytest.approx(axes.figure.get_figwidth())  # and points are points both ways
    assert axes.get_ylim()[1] / 72.0 == pytest.approx(axes.figure.get_figheight())


def test_what_layers_can_hold_by_hand() -> None:
    # 80 mm of medium with field capacity 0.33 and porosity 0.60 holds 26.4 and 48 mm
    words = texts(build_up_section_figure(runoff.open_sample_roof("cups")))
    assert "holds 26 mm drained," in words and "48 mm when full" in words


def test_water_and_air_are_said_in_words() -> None:
    # 48 mm of pores hold 40 mm of water: 8 mm of air in 80 mm are 10 %
    roof = runoff.open_sample_roof("cups")
    figure = build_up_section_figure(roof, water={"medium_water": 40.0, "cup_water": 2.0, "board_water": 5.0})
    assert {"water 40 of 48 mm", "air 10 % of its volume", "cups 2 of 3.5 mm", "free water 5 of 10 mm"} <= set(
        texts(figure)
    )
    assert "the medium holds 40 mm of water and 10 % air" in figure.description


def test_the_water_level_follows_the_stores_by_hand() -> None:
    # on a level deck, board half full: half of its 25 mm. Board full and the medium halfway from 26.4 to 48 mm: 25 + 40 mm
    roof = runoff.open_sample_roof("cups").replace({"roof.fall": 0.0})
    half = build_up_section_figure(roof, water={"medium_water": 20.0, "board_water": 5.0})
    assert "12.5 mm above the deck" in texts(half)
    risen = build_up_section_figure(roof, water={"medium_water": 37.2, "board_water": 10.0})
    assert "65 mm above the deck" in texts(risen)
    # on a drop of 160 mm the same 5 mm stand as a wedge: with y above the board (0.4 (50 y + 625) + 0.27 y^2)/320 = 5,
    # y = 42.8 and 67.8 mm above the deck at the outlets
    wedge = build_up_section_figure(roof.replace({"roof.fall": 0.02}), water={"medium_water": 20.0, "board_water": 5.0})
    assert "67.8 mm above the deck" in texts(wedge)


def test_one_step_of_a_run_can_be_drawn() -> None:
    roof = runoff.open_sample_roof("thin")
    run = runoff.simulate(roof, runoff.open_sample().isel(time=slice(0, 40)))
    day = run.isel(time=25)
    figure = build_up_section_figure(roof, water=day)
    assert f"holds {float(day['medium_water']):.3g} mm of water" in figure.description
    with pytest.raises(runoff.RunoffError, match=r"water holds many steps; select one, for example run.isel\(time=0\)"):
        build_up_section_figure(roof, water=run)


def leaf_area(figure) -> float:
    leaves = max(figure.axes[0].collections, key=lambda one: one.get_zorder())
    boxes = [path.get_extents() for path in leaves.get_paths()]
    return sum(box.width * box.height for box in boxes)


def test_roots_at_risk_change_shape_and_words_not_colour_alone() -> None:
    roof = runoff.open_sample_roof("cups")
    healthy, risk = (build_up_section_figure(roof, water=DROWNED, roots=one) for one in ("healthy", "at risk"))
    assert leaf_area(healthy) > 1.5 * leaf_area(risk)
    reach = []
    for figure in (healthy, risk):
        roots = min(
            (one for one in figure.axes[0].collections if one.get_zorder() == 5),
            key=lambda one: -len(one.get_paths()[0]),
        )
        reach.append(max(np.ptp(path.vertices[:, 1]) for path in roots.get_paths()))
    assert reach[0] > 2.0 * reach[1]
    assert "roots at risk" in texts(risk) and "roots at risk" in risk.description


def test_the_same_roof_gives_the_same_picture() -> None:
    from runoff.plots import svg_bytes

    roof = runoff.open_sample_roof("deep")
    assert svg_bytes(build_up_section_figure(roof)) == svg_bytes(build_up_section_figure(roof))


def test_the_emergency_overflow_is_drawn_and_named() -> None:
    figure = build_up_section_figure(runoff.open_sample_roof("deep"))
    assert {"Emergency overflow", "80 mm above the deck"} <= set(texts(figure))
    assert "Emergency overflow" not in texts(build_up_section_figure(runoff.open_sample_roof("thin")))


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"roots": "happy"}, r'roots "happy" is not known; known: healthy, at risk, dry'),
        ({"water": {"medium": 3.0}}, r'"medium" is no store .did you mean "medium_water".*; stores are surface_water'),
        ({"water": {"medium_water": -1.0}}, r"medium_water must be 0 mm or more \(given -1\)"),
        ({"water": {"cup_water": float("nan")}}, r"cup_water must be 0 mm or more \(given nan\)"),
        ({"units": "imperial"}, r'units must be "si" or "us"'),
    ],
)
def test_bad_input(given: dict, message: str) -> None:
    with pytest.raises(runoff.RunoffError, match=message):
        build_up_section_figure(runoff.open_sample_roof("cups"), **given)


class TestLabelSpacing:
    def test_labels_with_room_stay_where_they_are(self) -> None:
        assert spread([10.0, 50.0], [5.0, 5.0], 0.0, 100.0).tolist() == [10.0, 50.0]

    def test_crowded_labels_share_the_push_by_hand(self) -> None:
        # two blocks of height 4 wanted at 10: they touch at 10, middles 8 and 12
        assert spread([10.0, 10.0], [4.0, 4.0], 0.0, 100.0).tolist() == [8.0, 12.0]

    def test_labels_at_the_edge_stay_in_the_room(self) -> None:
        assert spread([0.0, 1.0], [4.0, 4.0], 0.0, 100.0).tolist() == [2.0, 6.0]
        assert spread([99.0, 100.0], [4.0, 4.0], 0.0, 100.0).tolist() == [94.0, 98.0]

    def test_never_an_overlap_over_random_cases(self) -> None:
        rng = np.random.default_rng(5)
        for _ in range(50):
            wanted, heights = rng.uniform(0, 100, 9), rng.uniform(2, 10, 9)
            middles = spread(wanted, heights, 0.0, 100.0)
            order = np.argsort(middles)
            gaps = np.diff(middles[order]) - (heights[order][1:] + heights[order][:-1]) / 2.0
            assert (gaps > -1e-9).all()
            assert (middles - heights / 2 > -1e-9).all() and (middles + heights / 2 < 100 + 1e-9).all()

    def test_text_is_cut_to_its_room_and_short_text_is_not(self) -> None:
        assert fit("short", 100.0, 9.0) == "short"
        cut = fit("a very long label " * 10, 100.0, 9.0)
        assert cut.endswith("…") and text_width_pt(cut, 9.0) <= 100.0

    def test_wrapped_lines_keep_every_word(self) -> None:
        sentence = "one two three four five six seven eight nine ten"
        lines = wrap(sentence, 80.0, 9.0)
        assert " ".join(lines) == sentence and len(lines) > 1
        assert all(text_width_pt(line, 9.0) <= 80.0 for line in lines)
