"""The build-up cut through, drawn to scale with its depths, and on request with the water in every store."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

import matplotlib as mpl
import numpy as np
from matplotlib.collections import LineCollection

from runoff.errors import RunoffError, nearest
from runoff.plots import section_shapes as shapes
from runoff.plots.label_spacing import fit, spread
from runoff.plots.outlined_text import OutlinedText
from runoff.plots.section_shapes import CONDITIONS, Box
from runoff.plots.style import INK, SOFT, VERMILION, WIDTH_IN, DescribedFigure, styled
from runoff.roof import column_parameters
from runoff.roof.build_up import drainage_layer
from runoff.roof.levels import edge_level
from runoff.roof.standing_water import level_of
from runoff.saying.numbers import number, plain, share
from runoff.saying.scales import Units

if TYPE_CHECKING:
    from runoff.roof import Roof
    from runoff.roof.layers.knowing_layer import Layer, Look

#: The water a section shows, mm, by the names of a run.
DRAWN_STORES = ("surface_water", "medium_water", "cup_water", "mat_water", "board_water", "pond_water")

_RULER_PT, _SECTION_PT, _GAP_PT, _EDGE_PT = 62.0, 218.0, 22.0, 8.0
_PLANTS_MM, _DECK_MM = 50.0, 16.0
_MOST_MM_PT, _TALLEST_PT = 2.4, 400.0  # scale is never larger, drawing never taller
_LINE_PT, _BLOCK_GAP_PT = 14.0, 5.0
# beside the reading of a lesson the picture is shown at three quarters of its size
_NAME_SIZE_PT, _TYPE_SIZE_PT, _RULER_SIZE_PT = 10.5, 10.0, 9.5
_HEAD_PT, _FOOT_PT = 40.0, 34.0


class _Placed(NamedTuple):
    """A layer and where it stands on the page."""

    layer: Layer
    box: Box


@styled
def build_up_section_figure(
    roof: Roof,
    *,
    water: Any = None,
    roots: str = "healthy",
    units: str = "si",
    title: str | None = None,
) -> DescribedFigure:
    """Draw a cross-section of the build-up to scale.

    Parameters
    ----------
    roof
        The roof.
    water
        What stands in the stores, mm: one step of a run (``run.isel(time=i)``) or a mapping with any of ``surface_water``,
        ``medium_water``, ``cup_water``, ``mat_water``, ``board_water``, ``pond_water``. Default: no water is drawn, and the
        labels say what each layer can hold.
    roots
        ``"healthy"``, ``"at risk"`` or ``"dry"``: shape and words of the plants and their roots.
    units
        ``"si"`` (mm) or ``"us"`` (in).
    title
        Replaces the name of the roof above the picture.

    Returns
    -------
    DescribedFigure
        All heights, the emergency overflow and the water are to one scale; membrane and deck are not. Labels are moved
        apart so that they never overlap.

    Raises
    ------
    RunoffError
        For a store, a condition of roots or a unit system that is not known.
    """
    shown, held = Units(units), _held(water, roof)
    if roots not in CONDITIONS:
        raise RunoffError(f'build_up_section_figure: roots "{roots}" is not known; known: {", ".join(CONDITIONS)}')
    labels = {layer.word: _label(layer, roof, held, roots, shown) for layer in roof.build_up.layers}
    labels |= _level_labels(roof, held, shown)
    scale = _scale(roof)
    needed = sum(_LINE_PT * len(lines) + _BLOCK_GAP_PT for lines in labels.values()) + _LINE_PT
    top_mm = _highest(roof, held)
    height = max((top_mm + _below_mm(roof) + _DECK_MM) * scale, needed) + _HEAD_PT + _FOOT_PT
    figure = DescribedFigure(figsize=(WIDTH_IN, height / 72.0), layout="none")
    with mpl.rc_context({"axes.grid": False}):  # axes that are never shown need no ticks and no grid
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0), xlim=(0.0, 72.0 * WIDTH_IN), ylim=(0.0, height))
    axes.set_axis_off()
    placed, zero = _place(roof, scale, _FOOT_PT + _DECK_MM * scale)
    _draw_layers(axes, placed, roof, held, roots, scale)
    _draw_ruler(axes, roof, placed, zero, scale, shown)
    levels = _draw_levels(axes, roof, placed, zero, held, scale)
    _draw_labels(
        axes, {one.layer.word: (one.box.bottom + one.box.top) / 2.0 for one in placed} | levels, labels, height
    )
    _draw_head_and_foot(axes, roof, title, height, wet=held is not None)
    figure.description = _sentence(roof, held, roots, shown)
    return figure


# --- what is in the stores -----------------------------------------------------------------------------------


def _held(water: Any, roof: Roof) -> dict[str, float] | None:
    """Return the stores in mm, and the level of standing water above the deck; None when none are drawn."""
    if water is None:
        return None
    known = (*DRAWN_STORES, "snow_water")
    if isinstance(water, Mapping) and not hasattr(water, "data_vars"):
        unknown = [name for name in water if name not in known]
        if unknown:
            raise RunoffError(
                f'build_up_section_figure: "{unknown[0]}" is no store{nearest(unknown[0], known)}; stores are {", ".join(known)}'
            )
        held = {name: float(water.get(name, 0.0)) for name in known}
    else:
        if "time" in getattr(water, "dims", ()):
            raise RunoffError(
                "build_up_section_figure: water holds many steps; select one, for example run.isel(time=0)"
            )
        held = {name: float(water[name]) for name in known if name in water}
    bad = [name for name, value in held.items() if not value >= 0.0]
    if bad:
        raise RunoffError(f"build_up_section_figure: {bad[0]} must be 0 mm or more (given {held[bad[0]]:g})")
    if "water_depth_on_deck_mm" in water:
        held["level"] = float(water["water_depth_on_deck_mm"])
    else:  # what the medium holds beyond field capacity is taken to stand
        standing = max(0.0, held["medium_water"] - column_parameters(roof)["field_water"])
        held["level"] = level_of(roof, held["board_water"] + standing + held["pond_water"])
    return held


# --- where things stand --------------------------------------------------------------------------------------


def _scale(roof: Roof) -> float:
    """Return points per mm."""
    return min(_MOST_MM_PT, _TALLEST_PT / (roof.build_up.depth_mm + _PLANTS_MM + _DECK_MM))


def _below_mm(roof: Roof) -> float:
    """Return what lies below level zero (the underside of what drains, the board or without one the mat), mm."""
    words = [layer.word for layer in roof.build_up.layers]
    first = words.index(drainage_layer(roof.build_up).word) + 1
    return sum(layer.height_taken_mm for layer in roof.build_up.layers[first:])


def _highest(roof: Roof, held: dict[str, float] | None) -> float:
    """Return the height above level zero that the picture must show, mm."""
    top = roof.build_up.depth_mm - _below_mm(roof) + _PLANTS_MM
    levels = [roof.emergency_overflow_mm or 0.0, held["level"] if held else 0.0]
    return max(top, min(max(levels) + 6.0, top + 80.0))


def _place(roof: Roof, scale: float, bottom: float) -> tuple[list[_Placed], float]:
    """Return every layer with its box, top to bottom, and the height of level zero on the page."""
    left, right = _RULER_PT, _RULER_PT + _SECTION_PT
    placed, y = [], bottom
    for layer in reversed(roof.build_up.layers):
        height = _PLANTS_MM * scale if layer.look == "plants" else layer.height_taken_mm * scale
        placed.append(_Placed(layer, Box(left, y, right, y + height)))
        y += height
    return placed[::-1], bottom + _below_mm(roof) * scale


def _box(placed: list[_Placed], word: str) -> Box | None:
    return next((one.box for one in placed if one.layer.word == word), None)


def _height_on_page(level_mm: float, placed: list[_Placed], zero: float, scale: float) -> float:
    """Return where a level of the balance stands: through the layer that drains, then the medium, then above it.

    The balance counts fleece, and a mat under a board, as without thickness; on the page they have some.
    """
    medium = _box(placed, "medium")
    drainage = next(one.box for one in placed if one.layer.drains)
    assert medium is not None  # every build-up has one
    height = drainage.height / scale
    return zero + level_mm * scale if level_mm <= height else medium.bottom + (level_mm - height) * scale


# --- drawing -------------------------------------------------------------------------------------------------


def _draw_layers(
    axes: Any, placed: list[_Placed], roof: Roof, held: dict[str, float] | None, roots: str, scale: float
) -> None:
    rng = np.random.default_rng(7)
    medium = _box(placed, "medium")
    assert medium is not None
    numbers = column_parameters(roof)
    water = held or dict.fromkeys((*DRAWN_STORES, "level"), 0.0)
    mat_share = water["mat_water"] / numbers["mat_capacity"] if numbers["mat_capacity"] > 0 else 0.0
    bottom = placed[-1].box.bottom
    shapes.deck(axes, Box(medium.left, bottom - _DECK_MM * scale, medium.right, bottom))
    filled = water["cup_water"] / numbers["cup_capacity"] if numbers["cup_capacity"] > 0 else 0.0
    free = min(1.0, water["level"] / numbers["board_height"])  # standing water is drawn as at the outlets
    draw: dict[Look, Callable[[Box], None]] = {
        "plants": lambda box: shapes.plants(axes, box, medium, roots, rng),
        "chips": lambda box: shapes.mulch(axes, box, 14.0 * scale, rng),
        "grains": lambda box: shapes.medium(axes, box, 6.0 * scale, rng),
        "cups up": lambda box: shapes.cups(axes, box, 40.0 * scale, up=True, filled=filled, free=free),
        "cups down": lambda box: shapes.cups(axes, box, 40.0 * scale, up=False, filled=filled, free=free),
        "fabric": lambda box: shapes.fabric(axes, box, wet=mat_share),
        "insulation": lambda box: shapes.insulation(axes, box),
        "line": lambda box: shapes.line(
            axes, [box.left, box.right], [box.bottom] * 2, color=INK, lw=3.2, solid_capstyle="butt", zorder=4
        ),
    }
    for layer, box in placed:
        draw[layer.look](box)
    if held is not None:
        _draw_medium_water(axes, medium, held, numbers, scale)


def _draw_medium_water(axes: Any, medium: Box, held: dict[str, float], numbers: dict[str, float], scale: float) -> None:
    """Tint the medium by the water it holds, and draw what stands in it and on it."""
    damp = min(held["medium_water"], numbers["field_water"]) / numbers["full_water"]
    axes.add_artist(medium.patch(facecolor=shapes.WATER_EDGE, edgecolor="none", alpha=0.55 * damp, zorder=4))
    standing = held["level"] - numbers["board_height"]
    if standing > 0:
        top = medium.bottom + min(standing, numbers["medium_depth"]) * scale
        shapes.water(axes, Box(medium.left, medium.bottom, medium.right, top), zorder=4.1, alpha=0.6)
    if standing > numbers["medium_depth"]:
        top = medium.top + (standing - numbers["medium_depth"]) * scale
        shapes.water(axes, Box(medium.left, medium.top, medium.right, top), zorder=5.5, alpha=0.6)


def _draw_ruler(axes: Any, roof: Roof, placed: list[_Placed], zero: float, scale: float, shown: Units) -> None:
    """Draw heights above level zero along the left side."""
    top_mm = roof.build_up.depth_mm - _below_mm(roof)
    unit_mm = 1.0 if shown.system == "si" else 25.4
    step = (
        next((one for one in (10, 20, 50, 100, 200) if one * scale >= 20.0), 200)
        if unit_mm == 1.0
        else next((one for one in (0.5, 1, 2, 5, 10) if one * unit_mm * scale >= 20.0), 10)
    )
    x = _RULER_PT - 8.0
    heights = np.arange(0.0, top_mm + 1e-6, step * unit_mm)
    on_page = [_height_on_page(one, placed, zero, scale) for one in heights]
    strokes = [[(x, zero), (x, _height_on_page(top_mm, placed, zero, scale))]]
    strokes += [[(x - 4.0, y), (x, y)] for y in on_page]
    axes.add_collection(LineCollection(strokes, colors=SOFT, linewidths=0.9), autolim=False)
    for height, y in zip(heights, on_page, strict=True):
        _write(axes, x - 6.0, y, plain(height / unit_mm), _RULER_SIZE_PT, ha="right")
    middle = (zero + on_page[-1]) / 2.0
    _write(axes, 12.0, middle, f"height, {shown.name('mm')}", _RULER_SIZE_PT, rotation=90, ha="center")


def _draw_levels(
    axes: Any, roof: Roof, placed: list[_Placed], zero: float, held: dict[str, float] | None, scale: float
) -> dict[str, float]:
    """Draw edge, emergency overflow and water level as lines; return where they stand, for their labels."""
    left, right = _RULER_PT, _RULER_PT + _SECTION_PT
    ceiling = zero + _highest(roof, held) * scale
    y = _height_on_page(edge_level(roof), placed, zero, scale)
    found = {"edge": min(y, ceiling)}
    if y <= ceiling:  # one far above the build-up is said in words only
        shapes.line(axes, [left - 8.0, right + 6.0], [y, y], color=INK, lw=1.2, ls=(0, (1.0, 2.0)), zorder=9)
    if roof.emergency_overflow_mm is not None:
        y = _height_on_page(roof.emergency_overflow_mm, placed, zero, scale)
        found["emergency"] = min(y, ceiling)
        if y <= ceiling:
            shapes.line(axes, [left - 8.0, right + 6.0], [y, y], color=VERMILION, lw=1.6, ls="-.", zorder=9)
    if held is not None and held["level"] > 0:
        y = min(_height_on_page(held["level"], placed, zero, scale), ceiling)
        found["level"] = y
        shapes.line(axes, [left - 4.0], [y], marker=">", ms=7, color=shapes.WATER_EDGE, mec=INK, mew=0.6, zorder=9)
        shapes.line(axes, [right + 4.0], [y], marker="<", ms=7, color=shapes.WATER_EDGE, mec=INK, mew=0.6, zorder=9)
    return found


def _draw_labels(axes: Any, anchors: dict[str, float], labels: dict[str, list[str]], height: float) -> None:
    """Write the labels in a column on the right, apart from each other, each tied to its layer."""
    edge = _RULER_PT + _SECTION_PT
    left = edge + _GAP_PT
    room = 72.0 * WIDTH_IN - left - _EDGE_PT
    heights = [_LINE_PT * len(labels[word]) + _BLOCK_GAP_PT for word in anchors]
    middles = spread(list(anchors.values()), heights, _FOOT_PT, height - _HEAD_PT)
    leaders = []
    for (word, anchor), middle in zip(anchors.items(), middles, strict=True):
        name, *rest = labels[word]
        leaders.append([(edge + 1.0, anchor), (edge + 8.0, anchor), (left - 5.0, middle), (left - 2.0, middle)])
        top = middle + _LINE_PT * (1 + len(rest)) / 2.0
        _write(
            axes,
            left,
            top - _LINE_PT / 2.0,
            fit(name, room, _NAME_SIZE_PT, bold=True),
            _NAME_SIZE_PT,
            fontweight="bold",
        )
        for i, line in enumerate(rest):
            _write(axes, left, top - _LINE_PT * (i + 1.5), fit(line, room, _TYPE_SIZE_PT), _TYPE_SIZE_PT)
    axes.add_collection(LineCollection(leaders, colors=SOFT, linewidths=0.8), autolim=False)


def _draw_head_and_foot(axes: Any, roof: Roof, title: str | None, height: float, *, wet: bool) -> None:
    room = 72.0 * WIDTH_IN - 2 * _EDGE_PT
    words = title if title is not None else f"{roof.name or 'Planted roof'}: build-up"
    _write(axes, _EDGE_PT, height - 16.0, fit(words, room, 11.0, bold=True), 11.0, fontweight="bold")
    under = drainage_layer(roof.build_up).word
    foot = f"To scale, except waterproofing and deck; heights from the underside of the {under}. Not a construction drawing."
    if wet:
        foot = f"To scale but for the membrane; heights from under the {under}; water as at the outlets. Not a construction drawing."
    _write(axes, _EDGE_PT, 13.0, foot, 8.5, color=SOFT)


def _write(axes: Any, x: float, y: float, words: str, size_pt: float, **style: Any) -> None:
    axes.add_artist(OutlinedText(x, y, words, fontsize=size_pt, **style))


# --- words ---------------------------------------------------------------------------------------------------


def _label(layer: Layer, roof: Roof, held: dict[str, float] | None, roots: str, shown: Units) -> list[str]:
    """Return the lines beside a layer: name and depth, then what it holds or can hold."""
    thick = layer.height_taken_mm
    name = layer.title
    first = f"{name}, {shown.say(thick, 'mm')}" if thick > 0 else name
    return [
        first,
        *(_state(layer, roots, shown) if held is None else _water_words(layer, roof, held, roots, shown)),
    ]


def _level_labels(roof: Roof, held: dict[str, float] | None, shown: Units) -> dict[str, list[str]]:
    """Return the labels of edge, emergency overflow and water level."""
    taken = [] if roof.edge_height_mm is not None else ["taken as usual, none is given"]
    labels = {"edge": ["Edge", f"{shown.say(edge_level(roof), 'mm', 3)} above the deck", *taken]}
    if roof.emergency_overflow_mm is not None:
        labels["emergency"] = [
            "Emergency overflow",
            f"{shown.say(roof.emergency_overflow_mm, 'mm', 3)} above the deck",
            _opening_words(roof, shown),
        ]
    if held is not None and held["level"] > 0:
        labels["level"] = ["Water level", f"{shown.say(held['level'], 'mm', 3)} above the deck"]
    return labels


def _opening_words(roof: Roof, shown: Units) -> str:
    if roof.emergency_width_mm is None or roof.emergency_height_mm is None:
        return "its opening is not described"
    width = number(float(shown.show(roof.emergency_width_mm, "mm")), 3)
    return f"opening {width} x {shown.say(roof.emergency_height_mm, 'mm', 3)}"


def _state(layer: Layer, roots: str, shown: Units) -> list[str]:
    """Return what a layer can hold, and how the roots are when that is not as they should be."""
    lines = [words.format(shown.say(depth, "mm")) for words, depth in layer.capacity_lines]
    return [*lines, f"roots {roots}"] if layer.look == "plants" and roots != "healthy" else lines


def _water_words(layer: Layer, roof: Roof, held: dict[str, float], roots: str, shown: Units) -> list[str]:
    """Return what is in the store of a layer; layers that share one say it once, at the lowest of them."""
    numbers = column_parameters(roof)
    last = [one for one in roof.build_up.layers if one.store == layer.store][-1] is layer

    def of(value: float, capacity: float) -> str:
        return f"{number(float(shown.show(value, 'mm')), 2)} of {shown.say(capacity, 'mm')}"

    if layer.look == "plants":
        return [f"roots {roots}", *_two_lines(CONDITIONS[roots])]
    if layer.store == "surface" and last:
        return [f"canopy and mulch {of(held['surface_water'], numbers['surface_capacity'])}"]
    if layer.store == "medium":
        air = (numbers["full_water"] - held["medium_water"]) / numbers["medium_depth"]
        lines = [f"water {of(held['medium_water'], numbers['full_water'])}", f"air {share(air)} of its volume"]
        return [*lines, f"ponded on top {shown.say(held['pond_water'], 'mm')}"] if held["pond_water"] > 0 else lines
    if layer.store == "cups":
        cups = of(held["cup_water"], numbers["cup_capacity"]) if numbers["cup_capacity"] > 0 else "hold none"
        return [f"cups {cups}", f"free water {of(held['board_water'], numbers['board_capacity'])}"]
    if layer.store == "mat" and last:
        return [f"mat and fleece {of(held['mat_water'], numbers['mat_capacity'])}"]
    return []


def _two_lines(words: str) -> list[str]:
    first, _, second = words.partition("; ")
    return [f"{first};", second] if second else [first]


def _short_name(roof: Roof) -> str:
    name = " ".join(roof.name.split()) or "a planted roof"
    return name if len(name) <= 80 else f"{name[:79].rstrip()}…"


def _sentence(roof: Roof, held: dict[str, float] | None, roots: str, shown: Units) -> str:
    parts = []
    for layer in roof.build_up.layers:
        thick = f" {shown.say(layer.height_taken_mm, 'mm')}" if layer.height_taken_mm > 0 else ""
        parts.append(f"{layer.title.lower()}{thick}")
    text = f"Section of {_short_name(roof)}, top to bottom: {', '.join(parts)}; total depth {shown.say(roof.build_up.depth_mm, 'mm', 3)}"
    if roof.emergency_overflow_mm is not None:
        text += f", emergency overflow {shown.say(roof.emergency_overflow_mm, 'mm', 3)} above the deck"
    text += f", edge {shown.say(edge_level(roof), 'mm', 3)} above the deck"
    if roof.edge_height_mm is None:
        text += " (taken as usual, none is given)"
    if held is not None:
        numbers = column_parameters(roof)
        air = (numbers["full_water"] - held["medium_water"]) / numbers["medium_depth"]
        text += (
            f"; the medium holds {shown.say(held['medium_water'], 'mm', 3)} of water and {share(air)} air, water stands "
            f"{shown.say(held['level'], 'mm', 3)} above the deck, roots {roots}"
        )
    return f"{text}."
