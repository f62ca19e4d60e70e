"""Results that show themselves: the tidy table, the sentence below it, and the picture where one belongs.

What sizing and findings return stays a plain `xarray.Dataset` (or `pandas.DataFrame`): `xarray.testing` refuses to compare a
subclass with what is read back from a file, and a subclass survives some arithmetic and is lost in other. So a result is
known by its title, in its attributes: a result read back from NetCDF shows itself too. In a notebook `import runoff` tells the
display of IPython about it (`register`), and the last line of a cell is enough; anywhere else there is `show`.
"""

from __future__ import annotations

import contextlib
import html
import re
import textwrap
from collections.abc import Callable, Sequence
from typing import Any

import xarray as xr

from runoff.errors import RunoffError
from runoff.saying import titles
from runoff.saying.scales import require_system
from runoff.saying.tables import Table

_LINE = 100  # columns of text in a terminal
#: Rows of a long table that are shown.
MOST = 20
_WORDS = "max-width:60em;margin:.3em 0"
_INVENTED = "The weather is invented, for demonstration only."

Picture = Callable[[], Any]


class Display:
    """A result as it is shown: tables, sentences and a picture; text in a terminal, HTML in a notebook.

    Parameters
    ----------
    tables
        The tables, one below the other.
    sentences
        What belongs below them.
    picture
        Draws the figure that belongs to the result, or None.
    """

    def __init__(self, tables: Sequence[Table], sentences: Sequence[str] = (), picture: Picture | None = None) -> None:
        self.tables = tuple(tables)
        self.sentences = tuple(one for one in sentences if one)
        self.picture = picture

    def text(self) -> str:
        """Return tables and sentences as lines of text."""
        blocks = []
        for table in self.tables:
            blocks += [table.title] if table.title else []
            blocks += [table.text(), *(_wrapped(note) for note in table.notes)]
        return "\n\n".join([*blocks, *(_wrapped(one) for one in self.sentences)])

    def html(self) -> str:
        """Return tables, sentences and picture as HTML."""
        words = "".join(f'<p style="{_WORDS}">{html.escape(one)}</p>' for one in self.sentences)
        return "".join(table.html() for table in self.tables) + words + self._picture_html()

    def _picture_html(self) -> str:
        if self.picture is None:
            return ""
        from matplotlib import pyplot

        from runoff.plots import png_bytes
        from runoff.plots.on_a_page import picture_html

        figure = self.picture()
        png, words = png_bytes(figure), getattr(figure, "description", "")
        pyplot.close(figure)
        shown = f'<p style="{_WORDS}">{html.escape(words)}</p>' if words else ""
        return picture_html(png, words, style="max-width:100%;height:auto") + shown

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        return self.html()


def show(result: Any, *, units: str = "si") -> Display:
    """Return a result as a tidy table with its sentence and, where one belongs, its picture.

    Parameters
    ----------
    result
        What `runoff.summarize`, `sweep`, `size`, `size_outlets`, `check_outlets`, `uncertainty`, `what_to_measure`, `compare_climates`,
        `irrigation_demand`, `compare_storm`, `storm_uncertainty`, `roof_loads`, `order_list`, `bill_of_quantities`, `check_weather`, `fit_roof` or
        `fit_tray` returned.
    units
        ``"si"`` or ``"us"``.

    Returns
    -------
    Display
        Text when printed, HTML as the last line of a notebook cell.

    Raises
    ------
    RunoffError
        When the result is none of these.
    """
    display = display_of(result, require_system(units))
    if display is None:
        raise RunoffError(
            f"show: a {type(result).__name__} is not known; give what summarize, sweep, size, size_outlets, check_outlets, "
            "uncertainty, what_to_measure, compare_climates, irrigation_demand, compare_storm, storm_uncertainty, roof_loads, order_list, "
            "bill_of_quantities, check_weather, fit_roof or fit_tray returned"
        )
    return display


def display_of(result: Any, units: str = "si") -> Display | None:
    """Return how a result is shown, or None for anything that is none of ours."""
    of_class = _OF_CLASSES.get(f"{type(result).__module__}.{type(result).__qualname__}")
    if of_class is not None:
        return of_class(result, units)
    title = getattr(result, "attrs", {}).get("title")
    builder = _BUILDERS.get(title) if isinstance(title, str) else None
    return builder(result, units) if builder is not None else None


# --- one builder per kind of result ----------------------------------------------------------------------------


def _facts(facts: xr.Dataset, units: str) -> Display | None:
    from runoff.findings.tables import facts_shown, figures_shown

    dims = [str(name) for name in facts["retention"].dims]
    sentences = [str(facts.attrs.get("note", "")), _invented(facts)]
    if not dims:
        kind = str(facts.attrs.get("comparison", "bare roof")).split(" with ")[0]
        comparison = kind if kind == "bare roof" else f"bare {kind}" if kind == "membrane" else f"{kind} roof"
        return Display([facts_shown(facts, units=units, comparison=comparison)], sentences)
    if len(dims) > 1:
        return None
    return Display([figures_shown(_first(facts, dims[0]), dims[0], units=units)], [*_rest(facts, dims[0]), *sentences])


def _sweep(table: xr.Dataset, units: str) -> Display:
    from runoff.findings.tables import sweep_shown, swept_properties

    swept = swept_properties(table)
    picture = None
    if len(swept) == 2 and all(_several_numbers(table[name].to_numpy()) for name in swept):

        def picture() -> Any:
            from runoff.plots import heat_map_figure

            return heat_map_figure(table, *swept, units=units)

    sentences = [
        *_rest(table, "design"), str(table.attrs.get("caution", "")), str(table.attrs.get("note", "")), _invented(table),
    ]  # fmt: skip
    return Display([sweep_shown(_first(table, "design"), units=units)], sentences, picture)


def _sizing(judged: xr.Dataset, units: str) -> Display:
    from runoff.sizing.choosing import chance_words, how_sure_words, verdict
    from runoff.sizing.result_tables import sizing_shown, targets_of

    def picture() -> Any:
        from runoff.plots import trade_off_figure

        return trade_off_figure(judged, units=units)

    wanted = targets_of(judged)
    sentences = [
        verdict(judged, wanted, units=units),
        chance_words(judged, wanted, units=units) if "probability" in judged else "",
        how_sure_words(judged, wanted, units=units),
        str(judged.attrs.get("caution", "")),
        *_rest(judged, "design"),
        _invented(judged),
    ]
    return Display([sizing_shown(judged, units=units, most=MOST)], sentences, picture)


def _outlets(table: xr.Dataset, units: str) -> Display:
    from runoff.sizing.outlet_tables import emergency_shown, outlets_shown
    from runoff.sizing.outlet_words import caution_words, verdict

    def picture() -> Any:
        from runoff.plots.outlet_rating import chosen_outlet_figure

        return chosen_outlet_figure(table, units=units)

    sentences = [verdict(table, units=units), caution_words(table, units)]
    tables = [outlets_shown(table, units=units), emergency_shown(table, units=units)]
    return Display(tables, sentences, picture if int(table["chosen"]) >= 0 else None)


def _outlets_as_described(check: xr.Dataset, units: str) -> Display:
    from runoff.sizing.outlet_tables import described_shown
    from runoff.sizing.outlet_words import caution_words, described_verdict

    sentences = [described_verdict(check, units=units), caution_words(check, units)]
    return Display([described_shown(check, units=units)], sentences)


def _storm(comparison: xr.Dataset, units: str) -> Display:
    from runoff.findings.storm_comparison import storm_note
    from runoff.findings.storm_tables import storm_shown

    def picture() -> Any:
        from runoff.plots import storm_comparison_figure

        return storm_comparison_figure(comparison, units=units)

    said = (str(comparison.attrs.get(name, "")) for name in ("how_sure", "curve_number_limits"))
    return Display([storm_shown(comparison, units=units)], [storm_note(comparison, units=units), *said], picture)


def _ranges(ranges: xr.Dataset, units: str) -> Display:
    from runoff.sizing.claiming import first_line
    from runoff.sizing.result_tables import chances_shown, ranges_shown

    tables = [
        ranges_shown(ranges, units=units),
        *([chances_shown(ranges, units=units)] if "target" in ranges.dims else []),
    ]
    told = (
        f"5 to 95 % of {ranges.attrs['members']} parameter sets and {ranges.attrs['resamples']} records drawn from "
        f"{float(ranges.attrs['years']):.0f} years, under drawn rain catch; reference "
        f"evapotranspiration by {ranges.attrs['evaporation_methods']}. {ranges.attrs['model']}"
    )
    told = f"{first_line(ranges).words(units)} {told}"
    return Display(tables, [told, _invented(ranges)])


def _storm_ranges(ranges: xr.Dataset, units: str) -> Display:
    from runoff.sizing.result_tables import storm_ranges_shown
    from runoff.sizing.storm_ranges import peak_range_words

    return Display([storm_ranges_shown(ranges, units=units)], [peak_range_words(ranges, units=units)])


def _measures(indices: xr.Dataset, _: str) -> Display:
    from runoff.sizing.result_tables import measures_shown

    def picture() -> Any:
        from runoff.plots import tornado_figure

        return tornado_figure(indices)

    return Display([measures_shown(indices, most=MOST)], [str(indices.attrs["advice"])], picture)


def _climates(facts: xr.Dataset, units: str) -> Display:
    from runoff.findings.tables import figures_shown

    return Display([figures_shown(facts, "climate", units=units)], [str(facts.attrs.get("note", "")), _invented(facts)])


def _watering(demand: xr.Dataset, units: str) -> Display:
    from runoff.sizing.result_tables import watering_shown

    return Display([watering_shown(demand, units=units)], [f"The rule: {demand.attrs['rule']}."])


def _loads(loads: xr.Dataset, units: str) -> Display:
    from runoff.roof.load_tables import loads_table_shown

    return Display([loads_table_shown(loads, units=units)])


def _order(bill: Any, units: str) -> Display:
    from runoff.roof.order_table import order_shown

    return Display([order_shown(bill, units=units)])


def _roof_fit(fit: Any, units: str) -> Display:
    from runoff.calibration.fit_result import goodness_shown, values_shown

    def picture() -> Any:
        from runoff.plots import fitted_overflow_figure

        return fitted_overflow_figure(fit, units=units)

    doubts = [f"Doubt: {said}" for said in fit.doubts]
    return Display([values_shown(fit), goodness_shown(fit, units=units)], [*doubts, *fit.advice], picture)


def _tray_fit(fit: Any, units: str) -> Display:
    def picture() -> Any:
        from runoff.plots import tray_drying_figure

        return tray_drying_figure(fit, invented=fit.is_invented, units=units)

    return Display([fit.shown(units)], picture=picture)


def _order_list(order: Any, units: str) -> Display:
    return Display([order.shown(units)])


def _quality(report: Any, _: str) -> Display:
    return Display([report.shown()])


def _run(run: xr.Dataset, units: str) -> Display | None:
    """Show a part of a run that can be read step by step; any other stays the Dataset it is."""
    from runoff.findings.tables import MOST_COLUMNS, MOST_STEPS, steps_shown

    along = {dim for values in run.data_vars.values() for dim in values.dims}
    if along != {"time"} or run.sizes["time"] > MOST_STEPS or len(run.data_vars) > MOST_COLUMNS:
        return None
    return Display([steps_shown(run, units=units)], [_invented(run)])


def _dossier(figures: xr.Dataset, units: str) -> Display:
    from runoff.findings.claim_tables import claims_shown, storm_claims_shown

    tables = [claims_shown(figures, units=units)]
    if "return_period" in figures.dims:
        tables.append(storm_claims_shown(figures, units=units))
    said = "Annual capture and the storage capacity of one storm are two claims: never mix or add them."

    def picture() -> Any:
        from runoff.plots import event_capture_figure

        return event_capture_figure(figures, units=units)

    return Display(tables, [said], picture)


def _depth_duration(table: Any, units: str) -> Display:
    from runoff.storms.table_shown import depth_duration_shown

    return Display([depth_duration_shown(table, units=units)])


class _WholeTable(Display):
    """A table with no row left out and no sentence cut short, and lean, as a page may hold hundreds of such rows."""

    def __init__(self, table: Any) -> None:
        super().__init__([])
        named = table.index.name or table.index.dtype.kind == "O"  # names of rows, not their numbers
        self.table = table.reset_index(names=table.index.name or "") if named else table

    def text(self) -> str:
        """Return a line per row, its cells unpadded."""
        return "\n".join(
            " | ".join(map(str, row)) for row in [tuple(self.table), *self.table.itertuples(index=False, name=None)]
        )

    def html(self) -> str:
        """Return the table with words at the left of their columns."""
        import pandas as pd

        with pd.option_context("display.max_colwidth", None):
            whole = self.table.to_html(index=False, border=0, justify="left", na_rep="")
        for column in "td", "th":
            whole = whole.replace(f"<{column}>", f'<{column} style="text-align:left">')
        return re.sub(r"\n\s*", "", whole)


def _whole_table(table: Any, _: str) -> Display:
    return _WholeTable(table)


def _verdict(verdict: Any, _: str) -> Display:
    return Display([], [line.strip() for line in verdict.text().split("\n")])


_Builder = Callable[[Any, str], Display | None]
_BUILDERS: dict[str, _Builder] = {
    titles.RUN: _run,
    titles.FACTS: _facts,
    titles.SWEEP: _sweep,
    titles.SIZING: _sizing,
    titles.OUTLETS: _outlets,
    titles.OUTLETS_AS_DESCRIBED: _outlets_as_described,
    titles.STORM: _storm,
    titles.RANGES: _ranges,
    titles.STORM_RANGES: _storm_ranges,
    titles.MEASURES: _measures,
    titles.CLIMATES: _climates,
    titles.WATERING: _watering,
    titles.LOADS: _loads,
    titles.ORDER_LIST: _order,
    titles.DOSSIER: _dossier,
    titles.CHECKS: _whole_table,
    titles.STORY: _whole_table,
}
# named, not imported: a result can only be given when its room is loaded
_OF_CLASSES: dict[str, _Builder] = {
    "runoff.calibration.fit_result.RoofFit": _roof_fit,
    "runoff.calibration.tray_fit.TrayFit": _tray_fit,
    "runoff.roof.ordering.OrderList": _order_list,
    "runoff.dossier.verifying.Verdict": _verdict,
    "runoff.storms.depth_duration.DepthDurationTable": _depth_duration,
    "runoff.weather.quality.report.QualityReport": _quality,
}


def _first(table: xr.Dataset, dim: str) -> xr.Dataset:
    return table.isel({dim: slice(0, MOST)})


def _rest(table: xr.Dataset, dim: str) -> list[str]:
    size = table.sizes[dim]
    return [f"{MOST} of {size:,} are shown; the Dataset holds them all."] if size > MOST else []


def _invented(result: xr.Dataset) -> str:
    return _INVENTED if result.attrs.get("invented") == "yes" else ""


def _several_numbers(values: Any) -> bool:
    return values.dtype.kind in "fiu" and len(set(values.tolist())) > 1


def _wrapped(text: str) -> str:
    return "\n".join(textwrap.fill(line, _LINE) for line in text.split("\n"))


# --- notebooks ---------------------------------------------------------------------------------------------------

_SHOWN_TYPES = (
    ("xarray.core.dataset", "Dataset"),
    ("pandas.core.frame", "DataFrame"),
    ("pandas", "DataFrame"),
)


def register(shell: Any) -> None:
    """Tell the display of a running IPython how results are shown; everything else is displayed as before.

    Parameters
    ----------
    shell
        What `IPython.get_ipython` returned.
    """
    formatters = shell.display_formatter.formatters
    own = [tuple(name.rsplit(".", 1)) for name in _OF_CLASSES]
    for module, name in [*_SHOWN_TYPES, *own]:
        formatters["text/html"].for_type_by_name(module, name, _as_html)
        formatters["text/plain"].for_type_by_name(module, name, _as_text)


def _as_html(result: Any) -> str | None:
    """Return a result as HTML; what is not ours, or cannot be shown, as it shows itself."""
    with contextlib.suppress(Exception):  # a display must not fail: arithmetic may have left a title on something else
        display = display_of(result)
        if display is not None:
            return display.html()
    own: str | None = result._repr_html_() if hasattr(result, "_repr_html_") else None
    return own


def _as_text(result: Any, printer: Any, cycle: bool) -> None:
    text = repr(result)
    with contextlib.suppress(Exception):
        display = display_of(result)
        text = display.text() if display is not None else text
    printer.text("..." if cycle else text)
