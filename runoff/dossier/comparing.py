"""Two pages held against each other: words, styles, marks and pictures, and each difference named."""

from __future__ import annotations

import html
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from difflib import SequenceMatcher
from urllib.parse import unquote

from runoff.dossier.masking import HOLE, MaskedPage

_PIECE = re.compile(r"<[^>]*>?|[^<]+")
_NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")
_VERSIONS = re.compile(r">Versions</th><td class=\"free checksum\">([a-z0-9]+ [\w.+-]+(?:, [a-z0-9]+ [\w.+-]+)*)</td>")
_MOST_NAMED = 12
_MOST_COMPARED = 4_000_000  # pieces of one side times those of the other: beyond it only the first difference is named
_SHOWN = 70
#: A text this many times too long is not taken apart: that would cost more than the sheet itself did.
_LONGEST = 4
_SENTENCE = 15
#: Figures are written to a tenth of a point: another processor may round a line the other way.
_POINT = 0.11
_HIDING = re.compile(r"display\s*:|visibility\s*:|opacity\s*:|\bhidden\b|font-size\s*:\s*0|<!--", re.IGNORECASE)


def word_faults(theirs: MaskedPage, ours: MaskedPage, spoken: Iterable[str], *, strict: bool) -> list[str]:
    """Name what stands in a page otherwise than it would be written now; marks are left to `mark_faults`.

    Parameters
    ----------
    theirs, ours
        The page given, and the page made again.
    spoken
        Sentences formed from results.
    strict
        False lets the last digit of a number in `spoken` differ: other versions of the libraries may round it otherwise.

    Returns
    -------
    list of str
        A sentence for each difference with its line, the first few; empty when the words are the same.
    """
    if theirs.words == ours.words:
        return []
    if len(theirs.words) > _LONGEST * len(ours.words):
        times = len(theirs.words) / len(ours.words)
        return [f"the text is {times:.0f} times as long as it should be; it was not compared further"]
    theirs_pieces, ours_pieces = _PIECE.findall(theirs.words), _PIECE.findall(ours.words)
    head = _common(theirs_pieces, ours_pieces)
    tail = _common(theirs_pieces[head:][::-1], ours_pieces[head:][::-1])
    theirs_middle = theirs_pieces[head : len(theirs_pieces) - tail]
    ours_middle = ours_pieces[head : len(ours_pieces) - tail]
    if len(theirs_middle) * len(ours_middle) > _MOST_COMPARED:
        return [f"line {_line(theirs_pieces, head)}: from here on the text is another"]
    allowed = [] if strict else [" ".join(one.split()) for one in spoken if one]
    faults = []
    matcher = SequenceMatcher(a=ours_middle, b=theirs_middle, autojunk=False)
    for what, i, k, j, m in matcher.get_opcodes():
        old, new = ours_middle[i:k], theirs_middle[j:m]
        if what == "equal" or (what == "replace" and _last_digits_only(old, new, allowed)):
            continue
        if all(_is_mark(one) for one in (*old, *new)):
            continue
        faults.append(f"line {_line(theirs_pieces, head + j)}: {_named(old, new, theirs_pieces[: head + j])}")
    return _few(faults)


def mark_faults(theirs: MaskedPage, ours: MaskedPage) -> list[str]:
    """Name numbers that are marked in one page and not in the other."""
    theirs_count, ours_count = (
        Counter((one.figure, one.unit, one.digits) for one in page.marks) for page in (theirs, ours)
    )
    faults = [
        f"{figure} is not marked as often as it should be: {count} too few ({unit or 'no unit'})"
        for (figure, unit, _), count in (ours_count - theirs_count).items()
    ]
    faults += [
        f"{figure} is marked where the page has no such number: {count} too many ({unit or 'no unit'})"
        for (figure, unit, _), count in (theirs_count - ours_count).items()
    ]
    if not faults and [one[1:4] for one in theirs.marks] != [one[1:4] for one in ours.marks]:
        faults.append("the marked numbers are not in their order")
    return _few(faults)


def pictures_that_differ(theirs: MaskedPage, ours: MaskedPage) -> list[int]:
    """Return the places, from 1, of pictures that are not drawn as they would be now."""
    if len(theirs.pictures) != len(ours.pictures):
        return [min(len(theirs.pictures), len(ours.pictures)) + 1]
    pairs = zip(theirs.pictures, ours.pictures, strict=True)
    return [at for at, (one, other) in enumerate(pairs, start=1) if not _same_picture(one, other)]


def _same_picture(one: str, other: str) -> bool:
    if one == other:
        return True
    one, other = unquote(one), unquote(other)
    pattern = re.compile(r"-?\d+(?:\.\d+)?")
    if len(one) > 2 * len(other) or pattern.sub("#", one) != pattern.sub("#", other):
        return False
    return all(
        abs(float(a) - float(b)) <= _POINT for a, b in zip(pattern.findall(one), pattern.findall(other), strict=True)
    )


def _common(one: list[str], other: list[str]) -> int:
    length = min(len(one), len(other))
    return next((i for i in range(length) if one[i] != other[i]), length)


def _line(pieces: list[str], at: int) -> int:
    return sum(piece.count("\n") for piece in pieces[:at]) + 1


def _is_mark(piece: str) -> bool:
    return piece.startswith(f"<{HOLE}mark ")


def _named(old: list[str], new: list[str], before: list[str]) -> str:
    """Return one difference in words: what kind, what should stand there, what does."""
    was, now = "".join(old), "".join(new)
    kind = "the words were changed"
    inside = next((one for one in reversed(before) if one.startswith(("<style", "</style"))), "")
    tags = [one for one in new if one.startswith("<") and not one.startswith(f"<{HOLE}")]
    if inside.startswith("<style"):
        kind = "the styles were changed"
    elif _HIDING.search(now) and not _HIDING.search(was):
        kind = "a hidden part was added"
    elif any(one.startswith("<img") for one in (*old, *new)):
        kind = "the words of a picture were changed" if len(old) == len(new) else "a picture was added or taken away"
    elif tags and [one for one in old if one.startswith("<")] != tags:
        kind = "unknown markup was added" if len(new) >= len(old) else "markup was taken away"
    elif re.search(r"\d", now) and not tags and _without_digits(was) == _without_digits(now):
        kind = "digits outside the marked numbers were changed"
    return f"{kind}: {_short(was) or 'nothing'} should stand there, not {_short(now) or 'nothing'}"


def _without_digits(text: str) -> str:
    return " ".join(re.sub(r"[\d.,]+", " ", text).split())


def _short(text: str) -> str:
    text = " ".join(re.sub(rf"<{HOLE}mark ([^|>]*)[^>]*>", r"[\1]", text).replace(HOLE, "...").split())
    return f'"{text}"' if 0 < len(text) <= _SHOWN else text and f'"{text[:_SHOWN]}..."'


def _few(faults: list[str]) -> list[str]:
    more = len(faults) - _MOST_NAMED
    return faults if more <= 0 else [*faults[:_MOST_NAMED], f"and {more} more places"]


def versions_only(theirs: MaskedPage, ours: MaskedPage) -> MaskedPage:
    """Return the page given with the printed list of versions as it follows from the record, where it names the same ones.

    What the record names decides how strict the rest is; a list printed otherwise is said beside the verdict.
    """
    row = _VERSIONS.search(ours.words)
    other = _VERSIONS.search(theirs.words)
    if row is None or other is None or row[1] == other[1]:
        return theirs
    if [one.split()[0] for one in row[1].split(", ")] != [one.split()[0] for one in other[1].split(", ")]:
        return theirs
    return replace(theirs, words=theirs.words.replace(other[0], row[0], 1))


def _last_digits_only(old: list[str], new: list[str], spoken: list[str]) -> bool:
    """Tell whether two pieces are sentences formed from results whose numbers differ in the last place alone."""
    if len(old) != len(new):
        return False
    return all(one == other or _one_apart(one, other, spoken) for one, other in zip(old, new, strict=True))


def _one_apart(one: str, other: str, spoken: list[str]) -> bool:
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", other):
        return False
    plain = " ".join(html.unescape(one).split())
    if not any(sentence in plain or (len(plain) >= _SENTENCE and plain in sentence) for sentence in spoken):
        return False
    for a, b in zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True):
        last = 10.0 ** -len(a.partition(".")[2])
        if abs(float(a.replace(",", "")) - float(b.replace(",", ""))) > 1.01 * last:
            return False
    return True
