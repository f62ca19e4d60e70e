"""A public function that is given something of another kind says so in a sentence, whatever it is given."""

import inspect
from pathlib import Path
from typing import Any

import pytest

import runoff
from runoff.given_kinds import _KINDS, refuse_other_kinds

WRONG = (None, 3, "x", [], {}, float("nan"), object())


@pytest.fixture(scope="module")
def right(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample().isel(time=slice(0, 6 * 365))
    storm = runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")
    run = runoff.simulate(roof, weather)
    return {
        "roof": roof, "weather": weather, "run": run, "storm": storm, "rain": storm, "facts": runoff.summarize(run),
        "path": tmp_path_factory.mktemp("kinds") / "x.html", "choices": {"medium.depth_mm": [60, 80]},
        "targets": {"retention": {"at_least": 0.3}}, "climates": {"today": weather}, "durations": ["1h"],
        "allowable_depth_mm": 60.0, "return_period_years": 10.0, "past": weather, "future": weather,
        "order": runoff.order_list(roof), "source": weather, "target": tmp_path_factory.mktemp("kinds") / "x.zarr",
    }  # fmt: skip


def doors() -> list[tuple[str, str]]:
    """Return every public function with each argument it must have, or all of a kind that the table knows."""
    found = []
    for name in sorted(runoff.__all__):
        function = getattr(runoff, name)
        if inspect.isfunction(function) and name not in ("show", "material", "convert"):
            needed = [one for one in inspect.signature(function).parameters.values() if one.default is one.empty]
            found += [(name, one.name) for one in needed if one.kind in (one.POSITIONAL_OR_KEYWORD, one.KEYWORD_ONLY)]
    return found


@pytest.mark.parametrize(("name", "argument"), doors())
def test_another_kind_is_refused_in_a_sentence(name: str, argument: str, right: dict[str, Any]) -> None:
    function = getattr(runoff, name)
    needed = [one for one in inspect.signature(function).parameters.values() if one.default is one.empty]
    others = {
        one.name: right.get(one.name) for one in needed
        if one.name != argument and one.kind in (one.POSITIONAL_OR_KEYWORD, one.KEYWORD_ONLY)
    }  # fmt: skip
    for wrong in WRONG:
        try:
            function(**others, **{argument: wrong})
        except (runoff.RunoffError, FileNotFoundError):
            continue  # FileNotFoundError: "x" is a name, and there is no such file


def test_the_sentence() -> None:
    with pytest.raises(runoff.RunoffError) as refused:
        runoff.sweep("roof.toml", runoff.open_sample(), [60, 80])  # type: ignore[arg-type]
    assert str(refused.value) == (
        "sweep: roof is a runoff.Roof, as runoff.read_roof returns one (given one of kind str)\n"
        'sweep: choices is the values to try, for example {"medium.depth_mm": [60, 80, 100]} (given one of kind list)'
    )
    refuse_other_kinds("here", path=Path("x"), allowable_depth_mm=3, roof=runoff.open_sample_roof("cups"))


def test_every_kind_of_the_table_is_asked_for_somewhere() -> None:
    sources = "".join(path.read_text(encoding="utf-8") for path in Path(runoff.__file__).parent.rglob("*.py"))
    assert not [name for name in _KINDS if f"{name}=" not in sources]
