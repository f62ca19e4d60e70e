"""Changes someone could make to a dossier, by name: none may pass. The pages are those of the quick dossier."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from typing import Any

Change = Callable[[str], str]


def in_record(change: Callable[[dict[str, Any]], None]) -> Change:
    """Return a change of the embedded record as a change of the page."""

    def rewrite(text: str) -> str:
        head, mark, rest = text.partition('id="provenance">')
        body, end, tail = rest.partition("</script>")
        record = json.loads(body)
        change(record)
        body = json.dumps(record).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
        return head + mark + body + end + tail

    return rewrite


def instead(old: str, new: str, count: int = 1) -> Change:
    """Return a change of words; it must find them."""

    def change(text: str) -> str:
        assert old in text, f"{old!r} is not in the page"
        return text.replace(old, new, count)

    return change


def by_pattern(pattern: str, new: str) -> Change:
    """Return a change by a pattern, at its first place."""

    def change(text: str) -> str:
        changed, count = re.subn(pattern, new, text, count=1, flags=re.DOTALL)
        assert count, f"{pattern!r} is not in the page"
        return changed

    return change


def _set(*path: str, value: Any) -> Change:
    def change(record: dict[str, Any]) -> None:
        for name in path[:-1]:
            record = record[name]
        record[path[-1]] = value(record[path[-1]]) if callable(value) else value

    return in_record(change)


def _drop(*path: str) -> Change:
    def change(record: dict[str, Any]) -> None:
        for name in path[:-1]:
            record = record[name]
        del record[path[-1]]

    return in_record(change)


#: Changes that leave roof, weather and options of the record alone: the page made again is the same for all of them.
OF_THE_PAGE: dict[str, Change] = {
    "a printed number": by_pattern(r'(data-figure="annual_capture_m3"[^>]*>)[^<]*', r"\g<1>99.9"),
    "a printed number in US units": by_pattern(r'(data-figure="annual_capture_m3" data-shown="gal"[^>]*>)[^<]*', r"\g<1>99,999"),
    "a number and the value behind it": by_pattern(
        r'value="[^"]*" (data-figure="retention"[^>]*>)[^<]*', r'value="0.99" \g<1>99'
    ),
    "the value behind a number": by_pattern(r'value="[^"]*" data-figure="retention"', 'value="0.99" data-figure="retention"'),
    "the value behind a number, written otherwise": by_pattern(
        r'value="([^"]*)" data-figure="area_m2"', r'value="\g<1>00" data-figure="area_m2"'
    ),
    "the digits of a mark": by_pattern(r'(data-figure="retention"[^>]*data-digits=")\d', r"\g<1>3"),
    "the unit of a mark": by_pattern(r'data-figure="area_m2" data-shown="m2"', 'data-figure="area_m2" data-shown="ft2"'),
    "the unit after a number": by_pattern(r'(data-figure="annual_capture_m3"[^>]*>[^<]*</data>\xa0)m³', r"\g<1>L"),
    "a mark that is another figure's": instead('data-figure="annual_capture_m3"', 'data-figure="annual_rain_m3"'),
    "a mark taken away, its text left": by_pattern(r'<data [^>]*data-figure="capacity_mm"[^>]*>([^<]*)</data>', r"\g<1>"),
    "a mark taken away with its text": by_pattern(r'<data [^>]*data-figure="capacity_mm"[^>]*>[^<]*</data>', ""),
    "a mark more": by_pattern(r'(<data [^>]*data-figure="capacity_mm"[^>]*>[^<]*</data>)', r"\g<1> \g<1>"),
    "two marks that changed places": by_pattern(
        r'(<data [^>]*data-figure="area_m2"[^>]*>[^<]*</data>)(.*?)(<data [^>]*data-figure="planted_area_m2"[^>]*>[^<]*</data>)',
        r"\g<3>\g<2>\g<1>",
    ),
    "a digit before a mark": by_pattern(r'(<data [^>]*data-figure="annual_capture_m3")', r"1\g<1>"),
    "a digit after a mark": by_pattern(r'(data-figure="annual_capture_m3"[^>]*>[^<]*</data>)', r"\g<1>0"),
    "a hidden number": by_pattern(r"(<data value)", r'<data style="display:none" value'),
    "a hidden sentence": by_pattern(r"</h1>", '</h1><p hidden="">Approved.</p>'),
    "a sentence hidden by its style": instead("</main>", '<p style="font-size:0">Approved.</p></main>'),
    "a sentence": instead("</main>", "<p>Checked and approved.</p></main>"),
    "a comment": instead("</main>", "<!-- approved --></main>"),
    "words of the upkeep": instead("At least twice a year", "Once in two years"),
    "words of an assumption": instead("no irrigation", "irrigation"),
    "a number in fixed words": instead("48 h of rain", "96 h of rain"),
    "digits of a date": by_pattern(r"1991-01-01", "1961-01-01"),
    "a caution taken away": by_pattern(r'<div class="caution">.*?</div>', ""),
    "a caution made small": instead(".caution {", ".caution { display: none;"),
    "the banner taken away": by_pattern(r'<div class="invented">.*?</div>', ""),
    "the banner's colour": instead("background: #fdeeee; color: #7a1212", "background: #ffffff; color: #ffffff"),
    "the running head": by_pattern(r"@top-right \{ content: \"[^\"]*\"", '@top-right { content: "Approved"'),
    "a style": instead("table { border-collapse", "tr:nth-child(3) { display: none; } table { border-collapse"),
    "a style added at the end": instead("</style>", "data { visibility: hidden }</style>"),
    "a second style": instead("</head>", "<style>.caution { opacity: 0 }</style></head>"),
    "words of a picture": by_pattern(r'(<img src="[^"]*" alt=")[^"]*', r"\g<1>Everything is held."),
    "the words of a picture taken away": by_pattern(r'(<img src="[^"]*" alt=")[^"]*', r"\g<1>"),
    "a picture": by_pattern(r'(<img src="data:image/svg\+xml,)[^"]*', r"\g<1>%3Csvg xmlns='http://www.w3.org/2000/svg'/%3E"),
    "a line of a picture": by_pattern(r"(d=&#39;M)(\d)(\d)", r"\g<1>\g<3>9\g<2>"),
    "a picture from elsewhere": by_pattern(r'<img src="[^"]*"', '<img src="picture.png"'),
    "a picture more": instead("</main>", '<img src="data:image/svg+xml,%3Csvg/%3E" alt="seal"></main>'),
    "a script": instead("</body>", "<script>document.title = 1</script></body>"),
    "the rules for scripts": instead("default-src 'none'", "default-src *"),
    "a link": instead("</main>", '<a href="https://example.invalid">Approval</a></main>'),
    "a table row taken away": by_pattern(r"<tr><th scope=\"row\">Planted area</th>.*?</tr>", ""),
    "the title": by_pattern(r"<title>[^<]*</title>", "<title>Approved</title>"),
    "the applicant": by_pattern(r'(Applicant</th><td class="free">)', r"\g<1>Somebody else"),
    "the language": instead('lang="en"', 'lang="fr"'),
    "the version of the generator": by_pattern(r'content="runoff [^"]*"', 'content="runoff 9.9"'),
    "a checksum in print": by_pattern(r'(Roof description, SHA-256</th><td class="free checksum">)[0-9a-f]', r"\g<1>x"),
    "a number of the record": _set("figures", "avoided_annual_m3", value=lambda old: old * 1.01),
    "a number taken from the record": _drop("figures", "capacity_mm"),
    "a number added to the record": _set("figures", value=lambda old: {**old, "approved": 1.0}),
    "a unit of the record": _set("units", "capacity_mm", value="cm"),
    "the digest of the roof": _set("checksums", "roof", value="0" * 64),
    "the digest of the weather": _set("checksums", "weather", value="0" * 64),
    "the digest of the series": _set("weather", "series_sha256", value="0" * 64),
    "a part of the record that none has": in_record(lambda record: record.update(approved="yes")),
    "the end of the file": lambda text: text[: text.index("</body>")],
    "words after the end": lambda text: text + "<p>Approved</p>",
}  # fmt: skip
#: Changes of what the numbers rest on: each is computed again.
OF_THE_INPUT: dict[str, Change] = {
    "the depth of the medium": _set("roof", value=lambda old: old.replace("depth_mm = 80", "depth_mm = 120")),
    "the area": _set("roof", value=lambda old: old.replace("area_m2 = 120.0", "area_m2 = 150.0")),
    "an outlet": _set("roof", value=lambda old: re.sub(r"diameter_mm = [\d.]+", "diameter_mm = 150.0", old, count=1)),
    "the existing roof": _set("existing", "depression_storage_mm", value=0.2),
    "members": _set("options", "members", value=40),
    "the seed": _set("options", "seed", value=2),
    "the paper": _set("options", "paper", value="letter"),
    "the name of the applicant in the record": _set("options", "applicant", value="Somebody else"),
    "the first day": _set("weather", "start", value="1990-01-01"),
    "the latitude": _set("weather", "coords", "lat", value=10.0),
    "the title of the weather": _set("weather", "attrs", "title", value="Another station"),
    "the sample no longer called invented": _set("weather", "attrs", "invented", value="no"),
    "a packed series": _set(
        "weather", "series", "rain", value=lambda old: {**old, "data": {"values": old["data"]["index"], "index": old["data"]["values"]}}
    ),
}  # fmt: skip
#: Changes of pictures alone: where a file was drawn by other versions, nothing can be said about them.
DRAWN = ("a picture", "a line of a picture")
assert len(OF_THE_PAGE) + len(OF_THE_INPUT) >= 40
