"""The page: complete, traceable, self-contained, safe against any text it is given."""

from __future__ import annotations

import dataclasses
import re
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest

import runoff
from runoff.dossier.asked_for import Options
from runoff.dossier.evidence_rows import source_rows
from runoff.dossier.gathering import gather
from runoff.dossier.marked_numbers import Numbers, flatten, shown
from runoff.dossier.page import provenance_record
from runoff.dossier.texts import REFERENCES
from runoff.dossier.words import title_and_site, words_of
from runoff.units import convert
from tests.dossier.conftest import write, years

SECTIONS = [
    "In brief",
    "1. Site and roof",
    "2. What is claimed",
    "3. Design storms: peaks before and after",
    "4. Month by month",
    "5. Waterlogged and dry spells",
    "6. Loads",
    "7. The weather record and its quality",
    "8. Maintenance plan",
    "9. Method",
    "10. Assumptions, and what the model does not know",
    "11. Single events in volume, curve numbers, credit",
    "12. Evidence: measured roofs and this method",
    "13. Forms: attachments, statements, inspection",
    "14. Glossary",
    "15. References",
    "16. Provenance",
]


class Reader(HTMLParser):
    """Collects headings, images, links and visible text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.headings: list[tuple[str, str]] = []
        self.images: list[dict[str, str]] = []
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.visible = ""
        self._stack: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.tags.append(tag)
        if tag == "img":
            self.images.append(found)
        self.addresses += [found[name] for name in ("src", "href") if name in found]
        if tag in ("h1", "h2", "h3"):
            self.headings.append((tag, ""))
        if tag not in ("img", "meta", "link", "br"):
            self._stack.append(tag)

    def handle_endtag(self, tag):
        if tag in self._stack:
            while self._stack.pop() != tag:
                pass

    def handle_data(self, data):
        if any(tag in ("script", "style") for tag in self._stack):
            return
        self.visible += data
        if self._stack and self._stack[-1] in ("h1", "h2", "h3"):
            level, words = self.headings[-1]
            self.headings[-1] = (level, words + data)


@pytest.fixture(scope="module")
def reader(sample) -> Reader:
    return Reader(sample.text)


def test_sections(reader):
    assert [words for level, words in reader.headings if level == "h2"] == SECTIONS
    assert [level for level, _ in reader.headings].count("h1") == 1


def test_every_marked_number_is_in_the_dataset_it_came_from(sample):
    known = flatten(sample.figures)
    marks = sample.page.numbers
    assert len(marks) > 400  # some hundred numbers are printed, most of them twice
    for mark, text in marks:
        name = mark["data-figure"]
        value = known[name]
        assert float(mark["value"]) == value, name
        units = sample.figures[name.partition("[")[0]].attrs.get("units", "")
        assert text == shown(value, units, mark["data-shown"], int(mark["data-digits"])), name


def test_every_claim_the_programmes_ask_for_is_printed(sample):
    printed = {mark["data-figure"] for mark, _ in sample.page.numbers}
    wanted = {
        "annual_capture_mm",
        "annual_capture_m3",
        "retention",
        "avoided_annual_m3",
        "capacity_mm",
        "events_held_per_year",
    }
    wanted |= {f"{name}_range[bound={bound}]" for name in wanted for bound in ("5", "95")}
    events = ("12.7", "25.4", "31.8", "38.1", "p80", "p85", "p90", "p95")
    wanted |= {f"event_capture_mm[event={event},start=before-50]" for event in events}
    wanted |= {f"event_curve_number[event={event},start=before-50]" for event in ("38.1", "p95")}
    wanted |= {f"storm_{who}[return_period={t}]" for who in ("peak", "bare_peak") for t in (2, 10, 100)}
    wanted |= {f"retention_by_month[month={month}]" for month in range(1, 13)}
    assert wanted <= printed


def test_both_unit_systems_say_the_same_to_the_printed_digits(sample):
    pairs: dict[str, dict[str, tuple[float, int]]] = {}
    for mark, text in sample.page.numbers:
        number = float(text.replace(",", "").replace("−", "-"))
        pairs.setdefault(mark["data-figure"], {})[mark["data-shown"]] = (number, int(mark["data-digits"]))
    compared = 0
    for name, shown_in in pairs.items():
        for si, us in (
            ("mm", "in"),
            ("m3", "gal"),
            ("L/s", "gpm"),
            ("m2", "ft2"),
            ("kg/m2", "lb/ft2"),
            ("mm/h", "in/h"),
        ):
            if si in shown_in and us in shown_in:
                (a, a_digits), (b, b_digits) = shown_in[si], shown_in[us]
                # each is rounded to its own last digit, so they may differ by half a digit of both
                slack = convert(0.5 * 10**-a_digits, si, us) + 0.5 * 10**-b_digits
                assert abs(convert(a, si, us) - b) <= slack * (1 + 1e-9), name
                compared += 1
    assert compared > 150


def test_every_number_in_brackets_is_a_reference_with_title_and_year(reader):
    cited = {int(one) for one in re.findall(r"\[(\d+)[,\]]", reader.visible)}
    assert cited == set(range(1, len(REFERENCES) + 1))
    for one in REFERENCES:
        assert re.search(r"\b(19|20)\d\d\b", one) and "not known" not in one, one
        assert re.search(r": [A-Z][a-z]+( [\w:-]+,?){2}", one), f"no title: {one}"


def test_no_daily_peak_is_shown(sample):
    """`peak_overflow` (mm/day) and the daily `peak_discharge` are in the findings but never printed as peaks."""
    printed = {mark["data-figure"] for mark, _ in sample.page.numbers}
    assert "peak_overflow" in flatten(sample.figures)
    assert not {name for name in printed if name.removeprefix("bare_") in ("peak_overflow", "peak_discharge")}


def test_capacity_and_annual_capture_are_kept_apart(reader):
    assert "the two are never added" in reader.visible
    captions = re.findall(
        r"Annual capture and runoff avoided|Storage capacity, a property of the build-up", reader.visible
    )
    assert len(set(captions)) == 2


def test_nothing_is_fetched_and_nothing_runs(sample, reader):
    assert all(one.startswith(("data:", "#")) for one in reader.addresses)
    assert "url(" not in sample.text.partition("<main>")[0] and "@import" not in sample.text
    assert reader.tags.count("script") == 1 and '<script type="application/json" id="provenance">' in sample.text
    assert not re.search(r"<[^>]*\son[a-z]+=", sample.text)


def test_every_figure_has_words(reader):
    assert len(reader.images) >= 10
    assert all(len(image["alt"]) > 30 for image in reader.images)
    assert all(image["src"].startswith("data:image/svg+xml,") for image in reader.images)


def test_the_sample_says_that_it_is_invented(sample, reader):
    assert "INVENTED SAMPLE. The place and its weather are made up" in " ".join(reader.visible.split())
    assert "INVENTED" in re.sub(r"\\([0-9a-f]+) ", lambda m: chr(int(m[1], 16)), sample.text.partition("</style>")[0])


def test_size(sample):
    assert sample.path.stat().st_size < 1_000_000


def test_repeated_runs_give_the_same_bytes(quick, tmp_path):
    again = write(tmp_path / "again.html", members=20)
    assert again.path.read_bytes() == quick.path.read_bytes()


def test_letter_paper(tmp_path, quick):
    letter = write(tmp_path / "letter.html", members=20, paper="letter")
    assert "size: letter;" in letter.text and "size: A4;" in quick.text


def test_without_a_storms_table_the_section_says_what_is_missing(quick):
    text = " ".join(Reader(quick.text).visible.split())
    assert "Missing: no depth-duration-frequency table was given." in text
    assert "The applicant adds them as a depth-duration-frequency table" in text
    assert "storm_peak" not in quick.figures


def test_a_short_record_says_so_and_widens(quick):
    text = " ".join(Reader(quick.text).visible.split())
    # 8 years: Student's t with 7 degrees of freedom 1.895 (any printed table) over 1.645 = 1.15
    assert "The record has 8.0 years; 20 or more are wanted." in text
    assert "widened by the factor 1.15" in text


def test_under_five_years_are_refused(tmp_path):
    message = (
        r"^a dossier needs at least 5 years of weather, 4\.0 are given: with so few, the spread between years cannot be "
        r"told\. Give a longer record, from this station or from one nearby$"
    )
    with pytest.raises(runoff.WeatherError, match=message):
        write(tmp_path / "short.html", weather=years(4), members=20)
    assert list(tmp_path.iterdir()) == []


def test_without_temperature(tmp_path):
    page = Reader(write(tmp_path / "warm.html", weather=years(6, temperature=False), members=20).text)
    text = " ".join(page.visible.split())
    assert "No temperature is known, so all precipitation is taken as rain and snow is not modelled." in text
    assert "no temperature is known, so all seasons count" in text


@pytest.fixture(scope="module")
def evidence():
    roof = runoff.open_sample_roof("cups")
    return gather(roof, years(8), storms=None, existing=None, options=Options(members=20))


def test_where_a_layer_value_comes_from():
    """The usual one, the one of the roof file, or the one fitted to a measurement: never a mere default."""
    roof = runoff.open_sample_roof("cups").replace({"medium.field_capacity": 0.40})
    rows = {one["words"]: one["source"] for one in source_rows(roof)}
    assert rows["Growing medium: field capacity"] == "given in the roof file; range from memory"
    # with the status of the usual medium in the table of materials, and its source where that is more than memory
    assert rows["Growing medium: porosity"] == "usual, from memory"
    assert rows["Growing medium: bypass, share that passes it at field capacity"].startswith(
        "usual, measured: runoff before "
    )
    assert not any("default" in one for one in rows.values())


def test_usual_values_are_among_what_is_assumed(evidence):
    found = words_of(evidence, Numbers(evidence.figures), provenance_record(evidence))["assumed"]
    # the sample states depths and the cups' storage, which is the usual one; no value was fitted to it
    rows = len(source_rows(evidence.roof))
    assert (
        f"{rows} of {rows} layer values are the usual ones of such layers and were not measured (section 12)." in found
    )


@pytest.mark.parametrize(
    ("attrs", "station", "told"),
    [
        ({"title": "Ostrey, an invented town"}, None, "Station Ostrey, an invented town"),
        ({"title": "station X1"}, None, "Station X1"),
        ({"title": "X1"}, "Mill", "Station Mill"),
        ({"title": "station.txt", "source": "station.txt"}, None, "Station not named, file station.txt"),
        ({"title": "", "source": ""}, None, "Station not named"),
    ],
)
def test_the_station_is_named_by_the_applicant_or_its_file(evidence, attrs, station, told):
    other = dataclasses.replace(
        evidence,
        weather=evidence.weather.assign_attrs(attrs),
        options=dataclasses.replace(evidence.options, station=station),
    )
    found = words_of(other, Numbers(other.figures), provenance_record(other))["station"]
    assert found == f"{told}; distance from the roof: not stated."


@pytest.mark.parametrize(
    ("attrs", "row", "assumed"),
    [
        ({}, "start of the interval", False),  # as the sample states it
        ({"time_label": "day of observation"}, "day of observation", False),
        ({"time_label": ""}, "not stated by the file; assumed: the day that begins at the time given", True),
    ],
)
def test_what_a_time_of_the_weather_file_marks_is_stated_or_marked_as_assumed(evidence, attrs, row, assumed):
    """In the table of the record, and among what is assumed on the first page."""
    other = dataclasses.replace(evidence, weather=evidence.weather.assign_attrs(attrs))
    found = words_of(other, Numbers(other.figures), provenance_record(other))
    assert dict(found["record"])["Time label of the file"] == row
    assert any("whether a time marks the start or the end of its day" in one for one in found["assumed"]) == assumed


def test_a_plain_table_cannot_say_what_its_times_mark(tmp_path):
    path = tmp_path / "rain.csv"
    path.write_text("time,rain_mm\n2024-01-01,1\n2024-01-02,2\n", encoding="utf-8")
    assert runoff.read_weather(path).attrs["time_label"].startswith("start of the interval, assumed")
    stated = runoff.read_weather(path, layout={"stamp": "start"})  # nobody's assumption any more
    assert stated.attrs["time_label"] == "start of the interval, as stated"
    assert '"stamp": "start"' in stated.attrs["reading_options"]  # so that a check reads it the same way


HOSTILE = {
    "script": "</title></style></script><script>alert(1)</script><!--",
    "quotes": "\"'><img src=x onerror='alert(1)'> & {{ 7*7 }} {% raw %}",
    "emoji": "Roof \N{HERB}\N{CLOUD WITH RAIN}",
    "right to left": "\N{RIGHT-TO-LEFT OVERRIDE}גג ירוק سقف",
    "long": "a" * 300,
}


# one dossier each for what breaks out of HTML and for what is merely strange; in one field the words stand side by side
@pytest.mark.parametrize("kinds", [("script", "quotes"), ("emoji", "right to left", "long")], ids=" and ".join)
def test_any_words_come_out_as_words(kinds, tmp_path):
    words = " ".join(HOSTILE[kind] for kind in kinds)
    roof = runoff.open_sample_roof("cups")
    layers = [layer.model_copy(update={"material": words}) for layer in roof.build_up.layers]
    roof = runoff.Roof(**{**dict(roof), "name": words, "site": words, "build_up": runoff.BuildUp(layers=layers)})
    weather = years(6).assign_attrs(title=words, source=words)
    fields = [one.name for one in dataclasses.fields(Options) if one.type == "str | None" and one.name != "et_method"]
    assert len(fields) >= 12
    written = write(tmp_path / "x.html", roof, weather, members=20, **dict.fromkeys(fields, words))
    reader = Reader(written.text)
    assert reader.visible.count(words) >= len(fields) + 3  # each of them, heading, layer, weather
    assert reader.tags.count("script") == 1 and reader.tags.count("style") == 1
    assert all("onerror" not in image for image in reader.images)
    assert {written.page.record["options"][name] for name in fields} == {words}
    assert [words for level, words in reader.headings if level == "h2"] == SECTIONS


def test_a_clogged_roof_gets_no_headline(tmp_path):
    """Water that cannot leave counts as kept in a balance: nothing is claimed of it, in either unit system."""
    roof = runoff.open_sample_roof("cups").replace({"roof.blocked_fraction": 0.9})
    written = write(tmp_path / "c.html", roof, years(6), members=20, units="us")
    text = " ".join(Reader(written.text).visible.split())
    front = text.partition("1. Site and roof Property")[0][:4000]
    assert "No capture is claimed. 90 % of the drainage is blocked" in front
    assert "Capture of a mean year" not in front and "Four roofs of five" not in front
    printed = re.sub("<[^>]*>", "", written.text).replace("\N{NO-BREAK SPACE}", " ")
    assert "1,292 ft² (120 m²) drain" in printed  # 120 m2 x 10.7639
    assert "The mean year by month, per planted area; in inches, mm in brackets" in printed
    assert "Weight of the planted build-up by state where water stands deepest, in lb/ft², kg/m² in brackets" in printed
    row = written.text.partition("Total, kN/m²")[2].partition("</tr>")[0]
    drained = float(written.figures["weight_total"].sel(state="drained")) * 9.80665 / 1000.0  # kg/m2 to kN/m2 by hand
    assert f">{drained:.2f}</data>" in row


def test_run_on_stands_beside_the_rain_and_is_said_to_be_missing_from_the_existing_roof(tmp_path):
    """20 m2 of wall base that keeps nothing, onto the planted area: of all rain 20 / planted area runs on."""
    roof = runoff.open_sample_roof("cups")
    roof = roof.replace({"roof.run_on_area_m2": 20.0, "roof.run_on_loss_mm": 0.0})
    written = write(tmp_path / "r.html", roof, years(6, temperature=False), members=20)
    led = float(written.figures["annual_run_on"])
    share = 20.0 / (roof.area_m2 * roof.planted_fraction)
    assert led == pytest.approx(share * float(written.figures["annual_rain"]), rel=1e-9)
    row = " ".join(
        re.sub("<[^>]*>", " ", written.text.partition(">Run-on, per planted area<")[2].partition("</tr>")[0]).split()
    )
    assert f"{led:,.0f}" in row and f"{led / 25.4:.1f}" in row
    text = " ".join(Reader(written.text).visible.split())
    assert "events of the existing roof are reckoned without the run-on" in text
    assert "Beside the rain," in text and "of run-on reach the planted area a year" in text
    assert "That of the planted roof is a share of rain and run-on" in text


def test_a_roof_without_run_on_has_no_row_of_it(quick):
    assert "Run-on, per planted area" not in quick.text and "annual_run_on" not in quick.text


@pytest.mark.parametrize(
    ("name", "site", "invented", "title"),
    [
        ("House on the quay, 80 mm with cups", "Ostrey (invented)", True, ("House on the quay, 80 mm with cups", "Ostrey (invented)")),
        ("House on the quay, 80 mm with cups", "Ostrey (invented)", False, ("Planted roof", "")),
        ("Library, north wing", "Ostrey (invented)", False, ("Library, north wing", "")),
        ("Library, north wing", "Mill Lane 4", False, ("Library, north wing", "Mill Lane 4")),
    ],
)  # fmt: skip
def test_the_place_of_a_sample_is_no_title_of_a_real_roof(name, site, invented, title):
    roof = runoff.open_sample_roof("cups").model_copy(update={"name": name, "site": site})
    assert title_and_site(SimpleNamespace(roof=roof, is_invented=invented)) == title


def test_an_unknown_option_or_ending(tmp_path):
    with pytest.raises(
        runoff.RunoffError, match=r'^dossier: option "adress" is not known \(did you mean "address"\?\); known: '
    ):
        write(tmp_path / "x.html", adress="1 Quay")
    with pytest.raises(runoff.RunoffError, match=r'^dossier: paper "a5" is not known; known: a4, letter$'):
        write(tmp_path / "x.html", paper="a5")
    with pytest.raises(
        runoff.RunoffError, match=r'^dossier: the file must end in \.html or \.pdf \(given "x\.docx"\)$'
    ):
        write(tmp_path / "x.docx")
    with pytest.raises(
        runoff.RunoffError, match=r"^dossier: 5 members are too few for a 5 to 95 % range; give 20 to 5,000 "
    ):
        write(tmp_path / "x.html", members=5)
