"""Messages of the package in flags: every form in which a message names an argument, by hand."""

import pytest

from runoff.cli.refusals import in_flags

FLAGS = {
    "column": "--column", "unit": "--unit", "fill": "--fill", "layout": "--layout", "trust_unit": "--trust-unit",
    "latitude": "--latitude", "start": "--start", "end": "--end", "step": "--step", "duration": "--duration",
    "allowable_depth_mm": "--allowable-depth", "et_method": "--et-method", "units": "--depth-duration-unit",
    "elevation_m": "--elevation",
}  # fmt: skip


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            'table: no column is known as rain; columns are a, b. Say which, for example columns={"time": "DATE", "rain": "RR"}, '
            'units={"rain": "mm"}',
            "table: no column is known as rain; columns are a, b. Say which, for example --column time=DATE --column rain=RR, "
            "--unit rain=mm",
        ),
        ('its unit is not known; give units={"rain": "mm"}', "its unit is not known; give --unit rain=mm"),
        ("a .dly file says itself what its values are; leave columns= and units= out",
         "a .dly file says itself what its values are; leave --column and --unit out"),
        ("If the amounts are right, say trust_unit=True (--trust-unit)", "If the amounts are right, say --trust-unit"),
        ("needs the latitude; give latitude= to read_weather or set it", "needs the latitude; give --latitude or set it"),
        ('w.csv: start "2oo1" must be years or dates', 'w.csv: --start "2oo1" must be years or dates'),
        ('w.csv: start "a" and end "b" must be years or dates', 'w.csv: --start "a" and --end "b" must be years or dates'),
        ("w.csv: latitude lies between -90 and 90 degrees (given 95)", "w.csv: --latitude lies between -90 and 90 degrees (given 95)"),
        ("w.csv: fill takes rain, temperature (given snow)", "w.csv: --fill takes rain, temperature (given snow)"),
        ("layout: decimal is . or ,", "--layout: decimal is . or ,"),
        ('first_time="2006-01-01 00:00", step="1h"', '--layout "first_time=2006-01-01 00:00" --layout step=1h'),
        ('declare it, missing=[-9999]', 'declare it, --layout missing=-9999'),
        ('say what they mean, trace=["T"] (counted, taken as 0)', 'say what they mean, --layout trace=T (counted, taken as 0)'),
        ('decimal commas on line 3; declare them, decimal=","', 'decimal commas on line 3; declare them, --layout decimal=,'),
        ('for years of 365 days say calendar="noleap", else', 'for years of 365 days say --layout calendar=noleap, else'),
        ('for real dates leave calendar= out', 'for real dates leave --layout calendar out'),
        ('--layout decimal=, header=no', '--layout decimal=, header=no'),
        ('layout={"step": "1h"}', '--layout step=1h'),
        ("sum it to days with runoff.daily_totals(weather)", "sum it to days"),
        ('Give a storm such as runoff.design_storm(depth_mm=..., duration="24h", step="5min")',
         "Give a storm such as depth_mm=..., --duration 24h, --step 5min"),
        ("use duration=\"24h\", or central_part=True for the most intense 1 h of it, or a pattern made from a table",
         "use --duration 24h, or a pattern made from a table"),
        ("fill them by a named method, runoff.fill_gaps(weather, ...)", "fill them by a named method, --fill"),
        ("size_outlets: allowable_depth_mm must be above 0", "runoff x: --allowable-depth must be above 0"),
        ('t.csv: the file does not say its units; give units="mm" or "in"', 't.csv: the file does not say its units; give --depth-duration-unit mm or "in"'),
        ('fit_roof: "roof.fall" has no range in the materials table; give one, {"roof.fall": (lowest, highest)}',
         'runoff x: "roof.fall" has no range in the materials table; give one, --parameter roof.fall=LOW:HIGH'),
        # what a person wrote, and plain words, stay as they are
        ("the step before the start of the duration must be longer", "the step before the start of the duration must be longer"),
        ("--layout: header is yes or no", "--layout: header is yes or no"),
        ("r.toml: layer 3 (medium), depth_mm = 1", "r.toml: layer 3 (medium), depth_mm = 1"),
    ],
)  # fmt: skip
def test_arguments_become_flags(text: str, expected: str) -> None:
    assert in_flags(text, "x", FLAGS) == expected


def test_flags_a_command_does_not_have_are_not_named() -> None:
    assert in_flags('give units={"rain": "mm"}', "fit", {}) == 'give units={"rain": "mm"}'


def test_every_part_of_a_layout_is_known_to_the_command_line() -> None:
    """The first time and the step of a file of bare values come as a pair, and are told as one."""
    import dataclasses

    from runoff.cli.refusals import LAYOUT_PARTS
    from runoff.weather.files.table_layout import TableLayout

    assert {*LAYOUT_PARTS, "first_time", "step"} == {field.name for field in dataclasses.fields(TableLayout)}
