"""Roof files: read and written without loss, in both unit spellings, and every fault said at once."""

import os
import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import runoff
from runoff.roof import open_sample_roof, read_roof, roof_from_toml, template_text
from runoff.roof.layers import LAYERS
from runoff.roof.roof_file import house_key

SMALL = """
[roof]
area_m2 = 120
fall = 0.02

[[layer]]
kind = "planting"

[[layer]]
kind = "medium"
depth_mm = 100

[[layer]]
kind = "board"
"""


def refused(text: str, folder: Path, name: str = "roof.toml") -> list[str]:
    """Return the lines of the refusal of a roof file."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    with pytest.raises(runoff.RoofError) as error:
        read_roof(path)
    return str(error.value).splitlines()


# --- the tested sentences -------------------------------------------------------------------------------------------


def test_a_typo_in_a_key(tmp_path: Path) -> None:
    assert refused(SMALL.replace("depth_mm = 100", "porossity = 0.6"), tmp_path) == [
        'roof.toml: layer 2 (medium), porossity is not a known key (did you mean "porosity"?)'
    ]


def test_a_negative_depth(tmp_path: Path) -> None:
    assert refused(SMALL.replace("100", "-100"), tmp_path) == [
        "roof.toml: layer 2 (medium), depth_mm must be more than 0 (you wrote -100)"
    ]


def test_a_negative_depth_in_inches_is_said_in_inches(tmp_path: Path) -> None:
    assert refused(SMALL.replace("depth_mm = 100", "depth_in = -4"), tmp_path) == [
        "roof.toml: layer 2 (medium), depth_in must be more than 0 (you wrote -4)"
    ]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("depth_mm = true", "depth_mm must be a number without quotes or unit (you wrote true)"),
        ('depth_mm = "100"', 'depth_mm must be a number without quotes or unit (you wrote "100")'),
        ('depth_in = "4"', 'depth_in must be a number without quotes or unit (you wrote "4")'),
        ("depth_mm = nan", "depth_mm must be a finite number (you wrote nan)"),
        ("depth_in = inf", "depth_in must be a finite number (you wrote inf)"),
        ("depth_mm = 2026-01-01", "depth_mm must be a number without quotes or unit (you wrote 2026-01-01)"),
        (f"depth_in = {10**400}", f"depth_in must be a number of ordinary size (you wrote 1{'0' * 58}…)"),
        (f"depth_mm = {10**400}", f"depth_mm must be a number of ordinary size (you wrote 1{'0' * 58}…)"),
        ("porosity = 60", "porosity must be less than 1 (you wrote 60); 60 % is written 0.6"),
        ("depth_mm = 100\ndepth_in = 4", "depth_mm and depth_in are both given; write one of them"),
        ("depth_in = 4\ndepth_mm = 100", "depth_mm and depth_in are both given; write one of them"),
        (
            'material = "pumice"',
            'material "pumice" is not in the materials table (did you mean "pumice mix"?); known for medium: brick and '
            "pumice mix, pumice mix, expanded clay mix, garden soil (do not use)",
        ),
    ],
)
def test_faults_of_a_layer(line: str, said: str, tmp_path: Path) -> None:
    assert refused(SMALL.replace("depth_mm = 100", line), tmp_path) == [f"roof.toml: layer 2 (medium), {said}"]


def test_all_faults_at_once(tmp_path: Path) -> None:
    text = """
[roof]
area_m2 = -120
area_ft2 = 1300
falls = 0.02
blocked_fraction = 50

[roof.other_surface]
kind = "grass"

[[roof.outlets]]
kind = "round"

[[roof.outlets]]
diameter_mm = 100
strainers = true

[roofs]

[[layer]]
kind = "planting"
canopy_storage_mm = -1

[[layer]]
kind = "medum"

[[layer]]
height_mm = 25
"""
    assert refused(text, tmp_path) == [
        'roof.toml: [roofs] is not known here (did you mean "roof"?); a roof file has [roof] and [[layer]]',
        "roof.toml: layer 1 (planting), canopy_storage_mm must be at least 0 (you wrote -1)",
        f'roof.toml: layer 2, kind "medum" is not known (did you mean "medium"?); it is one of {", ".join(LAYERS)}',
        f"roof.toml: layer 3, kind is missing; it is one of {', '.join(LAYERS)}",
        "roof.toml: outlet 1, a round outlet needs diameter_mm and no other size (you wrote none)",
        'roof.toml: outlet 2, strainers is not a known key (did you mean "strainer"?)',
        'roof.toml: [roof.other_surface], kind must be "membrane" or "gravel" (you wrote "grass")',
        "roof.toml: [roof], area_m2 and area_ft2 are both given; write one of them",
        "roof.toml: [roof], area_m2 must be more than 0 (you wrote -120)",
        "roof.toml: [roof], blocked_fraction must be at most 1 (you wrote 50); 50 % is written 0.5",
        'roof.toml: [roof], falls is not a known key (did you mean "fall"?)',
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("area_m2 = 120", "", "[roof], area_m2 (or area_ft2) is missing: the plan area that drains to the outlets"),
        ("area_m2 = 120", "area_m2 = 120\noutlets = []", "[roof], a roof needs at least one outlet or an emergency overflow; neither is given"),
        ("area_m2 = 120", "area_m2 = 120\nbuild_up = 3", "[roof], build_up is not a known key; list the layers as [[layer]]"),
        ("area_m2 = 120", "area_m2 = 120\noutlets = 2", "write [[roof.outlets]] with double brackets, once for each kind of outlet"),
        ("area_m2 = 120", "area_m2 = 120\nother_surface = 2", "[roof.other_surface] must be a table of keys (you wrote 2)"),
        ('kind = "medium"\ndepth_mm = 100', 'kind = "mulch"', "the layers, a growing medium is needed; given: planting, mulch, board"),
        ('"board"', '"planting"', "the layers, each layer may stand once; given more than once: planting"),
        ('"board"', '"planting"', "the layers, layers go from top to bottom: planting, planting, medium; given: planting, medium, planting"),
    ],
)  # fmt: skip
def test_faults_of_the_roof(old: str, new: str, said: str, tmp_path: Path) -> None:
    lines = refused(SMALL.replace(old, new), tmp_path)
    assert f"roof.toml: {said}" in lines
    assert len(lines) == (2 if new == '"planting"' else 1)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[roof]\narea_m2 = 120\n", "no [[layer]] is given; list the layers from top to bottom"),
        ('[roof]\narea_m2 = 120\n[layer]\nkind = "medium"\n', "write [[layer]] with double brackets, once for each layer"),
        ("[roof]\narea_m2 = 210 m2\n", "line 2 cannot be read: area_m2 = 210 m2; numbers carry no unit, the unit is in the key"),
        ("[roof]\narea_m2 = 210m2\n", "line 2 cannot be read: area_m2 = 210m2; numbers carry no unit, the unit is in the key"),
        ("[roof]\nfall = 2 %\n", "line 2 cannot be read: fall = 2 %; numbers carry no unit, the unit is in the key"),
        ('[roof]\nflow_length_m = 8"\n', 'line 2 cannot be read: flow_length_m = 8"; numbers carry no unit, the unit is in the key'),
        ("[roof]\nfall = 0,02\n", "line 2 cannot be read: fall = 0,02; write a decimal point, not a comma"),
        ("[roof]\nname = Quay\n", "line 2 cannot be read: name = Quay; text stands in quotes, and true and false in small letters"),
        ("[roof]\nstrainer = True\n", "line 2 cannot be read: strainer = True; text stands in quotes, and true and false in small letters"),
        ("[roof]\narea_m2 = 1" + "0" * 5000, "the text holds a number too long to read"),
        ("[roof]\narea_m2\n", "line 2 cannot be read: area_m2"),
        ("[roof]\narea_m2 = 1\narea_m2 = 2\n", "line 3 cannot be read: area_m2 = 2"),
        ("DATE,PRCP\n2020-01-01,12\n", "line 1 cannot be read: DATE,PRCP"),
    ],
)  # fmt: skip
def test_what_is_no_toml(text: str, said: str, tmp_path: Path) -> None:
    assert refused(text, tmp_path) == [f"roof.toml: {said}"]


START = "`runoff simulate --template` prints a roof file to start from"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", f"the file is empty; {START}"),
        (b" \n\n", f"the file is empty; {START}"),
        (b"PK\x03\x04rest", f"this is not a roof file (TOML text); {START}"),
        (b"%PDF-1.7", f"this is not a roof file (TOML text); {START}"),
        (b"\x89HDF\r\n", f"this is not a roof file (TOML text); {START}"),
        (b"a = 1\x00\x00", f"this is not a roof file (TOML text); {START}"),
        ('[roof]\nname = "Dach auf der Höhe"\n'.encode("latin-1"), "the text is not UTF-8; save the file as UTF-8"),
    ],
)
def test_files_that_are_something_else(raw: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "roof.toml"
    path.write_bytes(raw)
    with pytest.raises(runoff.RoofError) as error:
        read_roof(path)
    assert str(error.value) == f"roof.toml: {said}"


def test_a_missing_file_and_a_folder(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match=re.escape(f"there is no such roof file; {START}")) as error:
        read_roof(tmp_path / "none.toml")
    assert error.value.filename == str(tmp_path / "none.toml")
    assert isinstance(error.value, runoff.RunoffError)
    with pytest.raises(runoff.RoofError, match=re.escape(f"{tmp_path}: this is a folder, not a roof file")):
        read_roof(tmp_path)


def test_a_device_a_silent_pipe_and_a_huge_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(runoff.RoofError, match=r"^/dev/zero: this is a device, not a roof file$"):
        read_roof("/dev/zero")
    os.mkfifo(tmp_path / "roof.toml")
    monkeypatch.setattr("runoff.file_bytes.PATIENCE_S", 0.01)
    with pytest.raises(
        runoff.RoofError, match=r"roof\.toml: nothing came through this pipe for 0\.01 s; write the roof file"
    ):
        read_roof(tmp_path / "roof.toml")
    (tmp_path / "huge.toml").write_text("# a line\n" * 30_000, encoding="utf-8")
    with pytest.raises(
        runoff.RoofError, match=r"^huge\.toml: 0\.27 MB; a roof file is a page of text, 200 kB at most$"
    ):
        read_roof(tmp_path / "huge.toml")


# --- what was likely not meant ---------------------------------------------------------------------------------------


def questions(text: str) -> list[str]:
    """Return what is asked about a roof file that is read all the same."""
    import warnings

    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        roof_from_toml(text)
    return [str(one.message) for one in caught if issubclass(one.category, runoff.RunoffWarning)]


OUTLET = "[[roof.outlets]]\ndiameter_mm = 100\ncount = 1\n[[layer]]"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "depth_mm = 100",
            "depth_mm = 4",
            "layer 2 (medium), depth_mm = 4 is an unusual depth (4 mm); if another unit is meant, write depth_in = 4",
        ),
        (
            "depth_mm = 100",
            "depth_mm = 1270",
            "layer 2 (medium), depth_mm = 1270 is an unusual depth (1270 mm); check the number",
        ),
        (
            "depth_mm = 100",
            "depth_in = 50",
            "layer 2 (medium), depth_in = 50 is an unusual depth (1270 mm); if another unit is meant, write depth_mm = 50",
        ),
        (
            "[[layer]]",
            OUTLET.replace("100", "4"),
            "outlet 1, diameter_mm = 4 is an unusual size (4 mm); if another unit is meant, write diameter_in = 4",
        ),
        (
            "[[layer]]",
            "[[roof.outlets]]\ndiameter_in = 100\ncount = 1\n[[layer]]",
            "outlet 1, diameter_in = 100 is an unusual size (2540 mm); if another unit is meant, write diameter_mm = 100",
        ),
        (
            "fall = 0.02",
            "fall = 0.02\nemergency_overflow_mm = 5",
            "[roof], emergency_overflow_mm = 5 is an unusual height (5 mm); if another unit is meant, write "
            "emergency_overflow_in = 5",
        ),
        (
            "fall = 0.02",
            "fall = 0.02\nemergency_overflow_mm = 90\nemergency_width_mm = 300\nemergency_height_mm = 4",
            "[roof], emergency_height_mm = 4 is an unusual size (4 mm); if another unit is meant, write emergency_height_in = 4",
        ),
        (
            "fall = 0.02",
            "fall = 0.02\nflow_length_m = 30",
            "[roof], flow_length_m is 30 m, more than twice the side of a square roof of 120 m2 (11 m): is it the longest way of "
            "water to an outlet?",
        ),
        (
            "fall = 0.02",
            "",
            "[roof], fall is not given and taken as 0.02: write the fall of the deck, 0 for a level one",
        ),
        (
            "area_m2 = 120\nfall = 0.02",
            "area_m2 = 260\nfall = 0.02\n[[roof.outlets]]\ndiameter_mm = 100",
            "outlet 1, count is not given and taken as 1, so that one outlet serves 260 m2: write how many there are",
        ),
    ],
)
def test_what_was_likely_not_meant_is_asked(old: str, new: str, said: str) -> None:
    assert questions(SMALL.replace(old, new, 1)) == [f"roof: {said}"]


@pytest.mark.parametrize(
    "text",
    [
        SMALL,
        SMALL.replace("[[layer]]", OUTLET, 1),
        SMALL.replace("[[layer]]", OUTLET.replace("count = 1\n", ""), 1),  # one outlet on 120 m2 may be one
        SMALL.replace("[[layer]]", "[[roof.outlets]]\nkind = 'edge'\nlength_mm = 6000\n[[layer]]", 1),
        SMALL.replace("fall = 0.02", "fall = 0"),
        template_text(),
    ],
)
def test_what_is_usual_is_not_questioned(text: str) -> None:
    assert questions(text) == []


def test_a_flow_length_beyond_the_roof_is_refused_not_asked(tmp_path: Path) -> None:
    text = SMALL.replace("area_m2 = 120", "area_m2 = 260\nflow_length_m = 1100")
    assert refused(text, tmp_path) == [
        "roof.toml: [roof], flow_length_m must leave a strip at least 1 m wide: 1100 m on 260 m2 leave 0.24 m; write the longest "
        "way of water to an outlet"
    ]


def test_levels_are_not_held_against_layers_that_are_at_fault(tmp_path: Path) -> None:
    for levels in (
        "edge_height_mm = 60",
        "emergency_overflow_mm = 400",
        "edge_height_mm = 900\nemergency_overflow_mm = 400",
    ):
        text = SMALL.replace("fall = 0.02", f"fall = 0.02\n{levels}").replace('"medium"', '"medum"')
        assert refused(text, tmp_path) == [
            f'roof.toml: layer 2, kind "medum" is not known (did you mean "medium"?); it is one of {", ".join(LAYERS)}'
        ]


def test_what_a_roof_leaves_open_is_said() -> None:
    from runoff.roof import assumptions

    assert assumptions(open_sample_roof("cups")) == []
    plain = roof_from_toml(SMALL)
    assert assumptions(plain) == [
        "No edge height is given: taken as 275 mm above the deck, 150 mm above the top of the medium (common practice for "
        "upstands).",
        "No emergency overflow is described and none is counted on: water that cannot leave stands up to the edge.",
    ]
    opened = plain.replace({"roof.edge_height_mm": 300, "roof.emergency_overflow_mm": 90})
    board = runoff.DrainageBoard(in_plane_flow_l_per_s_m=0.7)
    layers = [board if one.word == "board" else one for one in plain.build_up.layers]
    flow = runoff.Roof(**{**opened.fields(), "build_up": runoff.BuildUp(layers=layers)})
    assert assumptions(flow) == [
        "The opening of the emergency overflow is not described: how high water stands above its sill with every outlet blocked "
        "cannot be told; give emergency_width_mm and emergency_height_mm.",
        "The in-plane flow of the drainage board is given without the gradient of its test: taken at 0.02.",
    ]


# --- both spellings -------------------------------------------------------------------------------------------------

# exact definitions: inch 25.4 mm, foot 0.3048 m, US gallon 3.785411784 L, pound 0.45359237 kg
BOTH = [
    ("medium", "depth_in", 4.0, "depth_mm", 101.6),
    ("medium", "dry_density_lb_per_ft3", 50.0, "dry_density_kg_per_m3", 50 * 0.45359237 / 0.3048**3),
    ("medium", "conductivity_in_per_h", 24.0, "conductivity_mm_per_h", 609.6),
    ("mulch", "density_lb_per_ft3", 15.0, "density_kg_per_m3", 15 * 0.45359237 / 0.3048**3),
    ("fleece", "flow_in_per_h", 1400.0, "flow_mm_per_h", 35560.0),
    ("board", "height_in", 1.0, "height_mm", 25.4),
    ("board", "in_plane_flow_gpm_per_ft", 3.0, "in_plane_flow_l_per_s_m", 3 * 3.785411784 / 60 / 0.3048),
    ("planting", "mass_lb_per_ft2", 2.0, "mass_kg_per_m2", 2 * 0.45359237 / 0.3048**2),
    ("insulation", "thickness_in", 5.0, "thickness_mm", 127.0),
    ("roof", "area_ft2", 1000.0, "area_m2", 92.90304),
    ("roof", "flow_length_ft", 25.0, "flow_length_m", 7.62),
    ("roof", "emergency_overflow_in", 2.0, "emergency_overflow_mm", 50.8),
    ("roof", "edge_height_in", 12.0, "edge_height_mm", 304.8),
    ("roof", "run_on_area_ft2", 100.0, "run_on_area_m2", 9.290304),
    ("mulch", "depth_in", 0.5, "depth_mm", 12.7),
]


@pytest.mark.parametrize(("word", "us_key", "us", "key", "si"), BOTH, ids=[row[1] for row in BOTH])
def test_both_spellings_make_the_same_roof(word: str, us_key: str, us: float, key: str, si: float) -> None:
    made = []
    for name, value in ((us_key, us), (key, si)):
        words = dict.fromkeys(["planting", "mulch", "medium", "fleece", "board", "insulation"], "")
        area = "" if name.startswith("area") else "area_m2 = 100\n"
        if word == "roof":
            area += f"{name} = {value!r}\n"
        else:
            words[word] = f"{name} = {value!r}\n"
        layers = "".join(f'[[layer]]\nkind = "{one}"\n{line}' for one, line in words.items())
        made.append(roof_from_toml(f"[roof]\nfall = 0.02\n{area}{layers}"))
    part = [roof if word == "roof" else roof.build_up.layer(word) for roof in made]
    assert getattr(part[0], key) == pytest.approx(si, rel=1e-12)  # rounding of two multiplications
    assert getattr(part[1], key) == si


def test_a_release_curve_in_inches() -> None:
    line = "release_alpha_per_in = 0.635\nrelease_n = 1.45\n"  # 0.635 / 25.4 = 0.025
    made = roof_from_toml(SMALL.replace("depth_mm = 100", f"depth_mm = 100\n{line}")).build_up.medium
    assert made.release_alpha_per_mm == pytest.approx(0.025, rel=1e-12) and made.release_n == 1.45


def test_every_dimensional_key_has_its_us_spelling() -> None:
    endings = {"_mm": "_in", "_mm_per_h": "_in_per_h", "_m2": "_ft2", "_kg_per_m2": "_lb_per_ft2"}
    endings |= {"_l_per_s_m": "_gpm_per_ft", "_kg_per_m3": "_lb_per_ft3", "_per_mm": "_per_in"}
    for kind in (*LAYERS.values(), runoff.Roof, runoff.Outlet, runoff.BareSurface):
        for key in kind.model_fields:
            for ending in sorted(endings, key=len, reverse=True):
                if key.endswith(ending):
                    house, units = house_key(kind, key.removesuffix(ending) + endings[ending])
                    assert house == key and units is not None
                    assert not key.endswith("_per_mm") or units == ("1/in", "1/mm")
                    break
    assert house_key(runoff.Roof, "flow_length_ft") == ("flow_length_m", ("ft", "m"))


def test_outlets_and_surfaces_in_inches() -> None:
    text = SMALL.replace(
        "[[layer]]",
        "[roof.other_surface]\nkind = 'gravel'\ndepression_storage_in = 0.2\n[[roof.outlets]]\nkind = 'rectangular'\n"
        "width_in = 8\nheight_in = 4\ndesign_head_in = 1.5\n[[layer]]",
        1,
    )
    roof = roof_from_toml(text)
    outlet = roof.outlets[0]
    assert (outlet.width_mm, outlet.height_mm, outlet.design_head_mm) == pytest.approx((203.2, 101.6, 38.1), rel=1e-12)
    assert roof.other_surface.depression_storage_mm == pytest.approx(5.08, rel=1e-12)


# --- there and back -------------------------------------------------------------------------------------------------

words = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=40)


def some(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


boards = st.builds(
    runoff.DrainageBoard,
    name=words,
    height_mm=some(30, 80),
    cup_storage_mm=some(0, 15),
    void_storage_mm=some(0.8, 15),
    in_plane_flow_l_per_s_m=some(0, 5),
    in_plane_gradient=st.none() | some(0.001, 1),
    cups_up=st.booleans(),
)
mats = st.builds(runoff.ProtectionMat, storage_mm=some(0, 12), in_plane_gradient=st.none() | some(0.01, 1))
media = st.one_of(
    st.builds(runoff.GrowingMedium, name=words, depth_mm=some(1e-3, 1e4), conductivity_mm_per_h=some(0.1, 1e5)),
    st.builds(
        runoff.GrowingMedium,
        depth_mm=some(10, 500),
        release_alpha_per_mm=some(0.001, 0.03),
        release_n=some(1.2, 1.6),
        field_capacity_depth_mm=some(50, 200),
        bypass_fraction=some(0, 1),
    ),
    st.builds(runoff.GrowingMedium, material=st.sampled_from(["pumice mix", "garden soil (do not use)"])),
    st.builds(runoff.GrowingMedium, material=st.just("pumice mix"), field_capacity=some(0.2, 0.5)),
)
outlets = st.one_of(
    st.builds(runoff.Outlet, diameter_mm=some(20, 300), strainer=st.booleans(), count=st.integers(1, 5)),
    st.builds(runoff.Outlet, kind=st.just("rectangular"), width_mm=some(20, 500), height_mm=some(20, 200)),
    st.builds(runoff.Outlet, kind=st.just("edge"), length_mm=some(200, 5000)),
)
roofs = st.builds(
    lambda medium, board, mat, **rest: runoff.Roof(
        build_up=runoff.BuildUp(layers=[runoff.Planting(), medium, board, mat, runoff.Membrane(material="sheet")]),
        **rest,
    ),
    medium=media,
    board=boards,
    mat=mats,
    name=words,
    site=words,
    area_m2=some(10, 1e5),
    fall=some(0, 0.3),
    outlets=st.lists(outlets, max_size=3),
    edge_height_mm=st.just(20_000.0),
    emergency_overflow_mm=some(0, 300),
    emergency_width_mm=st.just(300.0),
    emergency_height_mm=some(20, 200),
    run_on_area_m2=some(0, 50),
    run_on_to=st.sampled_from(["planting", "outlet"]),
    other_surface=st.builds(runoff.BareSurface, kind=st.sampled_from(["membrane", "gravel"])),
)


@pytest.mark.slow
@settings(max_examples=60)
@given(roof=roofs)
def test_written_and_read_again_is_the_same_roof(roof: runoff.Roof) -> None:
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", runoff.RunoffWarning)  # depths of millimetres to metres are meant here
        assert roof_from_toml(roof.to_toml()) == roof


@pytest.mark.parametrize("name", ["thin", "cups", "deep"])
def test_sample_roofs_are_invented_and_come_back_as_they_are(name: str, tmp_path: Path) -> None:
    roof = open_sample_roof(name)
    assert "invented" in roof.site and "Ostrey" in roof.site
    path = tmp_path / "again.toml"
    path.write_text(roof.to_toml(), encoding="utf-8")
    assert read_roof(path) == roof


def test_sample_roofs_are_what_their_names_say() -> None:
    assert open_sample_roof("thin").build_up.board is None and open_sample_roof("thin").fall <= 0.01
    assert open_sample_roof().build_up.medium.depth_mm == 80 and open_sample_roof().build_up.board.cup_storage_mm > 0
    assert open_sample_roof("deep").build_up.medium.depth_mm == 150
    with pytest.raises(
        runoff.RoofError, match=r'^sample roof "cup" is not known \(did you mean "cups"\?\); there are cups, thin'
    ):
        open_sample_roof("cup")


def test_a_mark_of_byte_order_and_foreign_letters_are_read(tmp_path: Path) -> None:
    path = tmp_path / "roof.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("area_m2", 'name = "Žluťoučký 屋根 🌱"\narea_m2').encode())
    assert read_roof(path).name == "Žluťoučký 屋根 🌱"


# --- whatever is written --------------------------------------------------------------------------------------------

values = st.one_of(
    st.floats(),
    st.integers(-(10**400), 10**400),
    st.booleans(),
    st.text(max_size=5).filter(lambda text: "\x00" not in text),
    st.just([]),
    st.just({}),
    st.dates(),
    st.lists(st.integers(), max_size=2),
    st.sampled_from([*LAYERS, "round", "rectangular", "gravel", "pumice mix"]),
)
_KEYS = (
    "kind material name depth_mm depth_in porosity cups_up height_in diameter_mm count area_m2 area_ft2 outlets "
    "other_surface build_up fall storage_mm emergency_overflow_in layer"
)
keys = st.sampled_from(["", *_KEYS.split()])
tables = st.dictionaries(keys, values, max_size=5)
files = st.dictionaries(
    st.sampled_from(["roof", "layer", "roofs"]),
    st.one_of(
        values, tables, st.lists(tables, max_size=3), st.fixed_dictionaries({"outlets": st.lists(tables, max_size=2)})
    ),
)


@pytest.mark.slow
@settings(max_examples=300)
@given(written=files)
def test_any_file_is_a_roof_or_refused_by_name(written: dict) -> None:
    import warnings

    import tomli_w

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", runoff.RunoffWarning)
        try:
            assert isinstance(roof_from_toml(tomli_w.dumps(written), where="f"), runoff.Roof)
        except runoff.RoofError as error:
            assert all(line.startswith("f: ") for line in str(error).split("\n"))
            assert "Input should" not in str(error) and "pydantic" not in str(error)


@settings(max_examples=100)
@given(text=st.text(max_size=80))
def test_any_text_is_refused_by_name(text: str) -> None:
    with pytest.raises(runoff.RoofError, match=r"^roof: "):
        roof_from_toml(text)


# --- the template ---------------------------------------------------------------------------------------------------


def test_the_template_is_a_roof() -> None:
    roof = roof_from_toml(template_text())
    assert roof.build_up.board is not None and roof.site == ""  # whose roof it is, is for its owner to write


def test_keys_of_the_template_in_comments_are_keys_with_their_defaults() -> None:
    """A line whose mark is taken away makes the same roof: comments show defaults (material and curve apart)."""
    plain = roof_from_toml(template_text())
    text = template_text()
    lines = [
        line[2:] if re.match(r"# (?!kind|thickness|site)[a-z_0-9]+ = ", line) else line for line in text.splitlines()
    ]
    shown = [line for line in lines if re.match(r"(material|release_alpha_per_mm|release_n) = ", line)]
    assert len(shown) == 3
    full = roof_from_toml("\n".join(line for line in lines if line not in shown))
    assert full == plain
    with_insulation = roof_from_toml(re.sub(r"(?m)^# (\[\[layer\]\]|kind|thickness_mm)", r"\1", text))
    assert with_insulation.build_up.layer("insulation") == runoff.Insulation()
    with_all = roof_from_toml("\n".join(lines)).build_up.medium
    assert with_all.material == "brick and pumice mix" and with_all.release_n == 1.45


def test_us_keys_named_in_the_template_exist() -> None:
    head = template_text().split("[roof]")[0]
    kinds = [*LAYERS.values(), runoff.Roof]
    for key in re.findall(r"\b[a-z_]+_(?:in|ft|ft2|in_per_h|gpm_per_ft|lb_per_ft2|lb_per_ft3)\b", head):
        assert any(house_key(kind, key)[1] for kind in kinds), key


def test_a_file_in_the_contract_form() -> None:
    """The form of the roof file as users have it: outlets and other surface inside [roof], layers after."""
    roof = roof_from_toml(
        """
[roof]
name = "Form"
area_m2 = 120
planted_fraction = 0.85
flow_length_m = 8
fall = 0.02
emergency_overflow_mm = 60
blocked_fraction = 0
[roof.other_surface]
kind = "gravel"
depression_storage_mm = 5
[[roof.outlets]]
kind = "round"
diameter_mm = 100
strainer = true
design_head_mm = 35
[[layer]]
kind = "medium"
material = "pumice mix"
depth_mm = 80
[[layer]]
kind = "mat"
"""
    )
    assert roof.build_up.medium.porosity == 0.68  # typical value of the materials table
    assert tomllib.loads(roof.to_toml())["roof"]["outlets"][0]["diameter_mm"] == 100.0


def test_run_on_is_said_with_the_ratio_of_hard_to_planted_area() -> None:
    """By hand: 120 m2, 85 % planted: 102 m2 planted, 18 m2 of gravel. 60 m2 of run-on: 78/102 = 0.76; 100 m2: 118/102 = 1.16."""
    import runoff
    from runoff.roof import assumptions

    roof = runoff.open_sample_roof("cups")
    assert not any("Run-on" in one for one in assumptions(roof))
    (said,) = (one for one in assumptions(roof.replace({"roof.run_on_area_m2": 60.0})) if "Run-on" in one)
    assert "60 m2 of hard surface arrives with the rain: 0.76 of hard to 1 of planted area" in said
    assert "1 - overflow / (rain + run-on)" in said and "Philadelphia" not in said
    (said,) = (one for one in assumptions(roof.replace({"roof.run_on_area_m2": 100.0})) if "Run-on" in one)
    assert "1.16 of hard to 1" in said and "rule of that place" in said
