"""``runoff fit --tray`` as it is typed."""

from pathlib import Path

import numpy as np
import pytest

import runoff
from runoff.calibration import read_tray_log
from runoff.calibration.invented_weighings import TRAY_FILE, sample_tray
from runoff.calibration.tray_log import TEMPLATE
from runoff.cli.entry import main
from runoff.sample_files import sample_folder
from runoff.sizing.likely_ranges import draw_roofs, ranges_of

LOG = str(sample_folder() / TRAY_FILE)
ROOF = str(sample_folder() / "roof_cups_80mm.toml")


@pytest.fixture
def jumped(tmp_path: Path) -> str:
    """Return the sample log with the scale set up by half a kilogram from the thirtieth weighing on."""
    lines = Path(LOG).read_text(encoding="utf-8").splitlines()
    for at in range(45, len(lines)):
        day, mass, *rest = lines[at].split(",")
        lines[at] = ",".join([day, f"{float(mass) + 0.5:.2f}" if mass else "", *rest])
    path = tmp_path / "jumped.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return str(path)


def test_without_a_file_a_log_to_fill_in(capsys) -> None:
    assert main(["fit", "--tray"]) == 0
    assert capsys.readouterr().out == TEMPLATE


def test_a_tray_is_fitted_and_its_values_stand_in_the_roof_file(capsys, tmp_path: Path) -> None:
    out = tmp_path / "results"
    assert main(["fit", ROOF, "--tray", LOG, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "Log       ostrey_tray_log.csv, 2014-05-05 to 2014-07-08, roofed - INVENTED, for demonstration only" in said
    assert "plant-available water" in said and "Doubt" not in said
    assert (out / "tray.png").stat().st_size > 10_000 and (out / "tray_values.csv").is_file()
    roof = runoff.read_roof(out / "fitted_roof.toml")
    found = {one.property: one for one in roof.fitted}
    assert set(found) == {"medium.field_capacity", "medium.wilting_point", "planting.crop_coefficient"}
    assert found["medium.field_capacity"].fitted_on == "ostrey_tray_log.csv, 2014-05-05 to 2014-07-08, 60 readings"
    hidden = sample_tray().hidden
    assert roof.build_up.medium.field_capacity == pytest.approx(hidden["field_capacity"], abs=0.005)
    assert found["medium.wilting_point"].low < hidden["wilting_point"] < found["medium.wilting_point"].high
    # the roof holds at its depth what the tray held
    assert roof.build_up.medium.drained_water_mm == pytest.approx(80.0 * found["medium.field_capacity"].value)


def test_the_spread_of_the_tray_narrows_what_uncertainty_draws() -> None:
    roof = runoff.read_roof(ROOF)
    fitted = runoff.fit_tray(read_tray_log(LOG)).applied_to(roof)
    width = {}
    for name, one in (("described", roof), ("fitted", fitted)):
        _, drawn = draw_roofs(one, ranges_of(one), members=60, seed=1)  # what `uncertainty` runs, without the runs
        width[name] = {
            key: float(np.ptp(drawn.sel(property=key).to_numpy())) / float(drawn.sel(property=key).mean())
            for key in ("medium.field_capacity", "planting.crop_coefficient")
        }
    for key in width["described"]:
        assert width["fitted"][key] < 0.5 * width["described"][key]


def test_doubts_keep_the_roof_file_unwritten(capsys, tmp_path: Path, jumped: str) -> None:
    out = tmp_path / "results"
    assert main(["fit", ROOF, "--tray", jumped, "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "- Doubt: Up to 2014-06-09 the tray gained " in said
    assert "Doubt     the roof file is not written: 1 doubt above; mend or cut the log (--start, --end)" in said
    assert not (out / "fitted_roof.toml").exists() and (out / "tray.png").exists()
    assert main(["fit", ROOF, "--tray", jumped, "--out", str(tmp_path / "roof.toml")]) == 1
    assert capsys.readouterr().err == (
        "runoff fit: the roof file is not written: 1 doubt above; mend or cut the log (--start, --end), fit --depletion where two "
        "stages are named, or say --accept-doubts\n"
    )
    assert main(["fit", ROOF, "--tray", jumped, "--out", str(tmp_path / "roof.toml"), "--accept-doubts"]) == 0
    assert main(["fit", ROOF, "--tray", jumped, "--end", "2014-06-08", "--out", str(tmp_path / "cut.toml")]) == 0
    assert "Doubt" not in capsys.readouterr().out.rpartition("Written")[0].rpartition("Tray  ")[2]


def test_a_tray_of_another_depth_is_told(capsys) -> None:
    assert main(["fit", ROOF, "--tray", LOG, "--medium-depth", "4in", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert (
        "The tray is 4 in deep, the medium of the roof 3.15 in: a shallow layer holds more for its depth than a deep one."
        in said
    )


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ["--tray-area", "0.25"],
            "--tray-area needs a unit, for example 10m2 or 108ft2 (given \"0.25\")\nrunoff fit --help lists what it takes\n",
        ),
        (
            ["--tray-area", "0m2"],
            "--tray-area must be above 0 m2 (given 0m2)\nrunoff fit --help lists what it takes\n",
        ),
        (
            ["--depletion", "2"],
            '--depletion is a share from 0 to below 1, or "fit" (given "2")\nrunoff fit --help lists what it takes\n',
        ),
        (
            ["--planted-only"],
            "runoff fit: --planted-only belongs to measured overflow, --tray to a tray on the scales; fit one after the other\n",
        ),
        (
            ["--empty-mass", "25kg"],
            'ostrey_tray_log.csv: mass: below the empty tray (25 kg) on 47 lines (first line 20: "24.73 kg"); check the empty mass, '
            "or the scale\n",
        ),
    ],
    ids=["no unit", "an area of zero", "depletion", "belongs elsewhere", "masses below the empty tray"],
)  # fmt: skip
def test_refused_with_these_words(capsys, words, message) -> None:
    assert main(["fit", "--tray", LOG, *words]) == 1
    assert capsys.readouterr().err == message
