"""Pictures of a page: the same drawing gives the same bytes, whatever the last bits of its numbers were."""

from __future__ import annotations

import re
from urllib.parse import unquote

from runoff.dossier.pictures import data_uri

DRAWING = """<svg><defs><clipPath id="p{clip}"><rect x="{x}" y="1"/></clipPath><path id="m{mark}" d="M 0 {x} L 1 2"/></defs>
<g id="matplotlib.axis_1"><use xlink:href="#m{mark}" clip-path="url(#p{clip})"/></g></svg>"""


def test_names_made_from_unrounded_numbers_leave_no_trace():
    one = DRAWING.format(clip="0123456789", mark="aaaaaaaaaa", x="170.90000000000001")
    other = DRAWING.format(clip="fedcba9876", mark="bbbbbbbbbb", x="170.90000000000003")
    assert data_uri(one.encode()) == data_uri(other.encode())
    text = unquote(data_uri(one.encode()))
    assert "clip-path='url(#n0)'" in text and "id='n0'" in text and "href='#n1'" in text
    assert "matplotlib" not in text


def test_every_name_that_is_used_is_there(quick):
    for picture in re.findall(r'<img src="([^"]*)"', quick.text):
        text = unquote(picture).replace("&#39;", "'")
        used = set(re.findall(r"(?:url\(#|href='#)([^)']+)", text))
        assert used <= set(re.findall(r"id='([^']+)'", text))
