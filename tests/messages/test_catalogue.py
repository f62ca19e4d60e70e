"""The table of sentences holds what the source says, and a test knows the words of each."""

from pathlib import Path

import pytest

from tests.messages import catalogue

AGAIN = "run python -m tests.messages.catalogue, and look at what it prints"


def test_the_table_holds_every_sentence_of_the_source() -> None:
    source, table = {one.key for one in catalogue.sentences()}, {tuple(row.values())[:4] for row in catalogue.rows()}
    assert sorted(source - table) == [] and sorted(table - source) == [], AGAIN


@pytest.mark.slow
def test_a_test_knows_each_sentence_or_a_note_says_why_not() -> None:
    for row in catalogue.rows():
        if not row["note"]:
            assert catalogue.test_of(row["sentence"]), f"{row['module']}: no test knows these words: {row['sentence']}"
        if row["test"]:
            assert (catalogue.ROOT / row["test"].partition("::")[0]).exists(), AGAIN


def test_sentences_are_found_whatever_way_they_are_said(tmp_path: Path) -> None:
    folder = tmp_path / "runoff"
    folder.mkdir()
    (folder / "a.py").write_text(
        "def f(x):\n    faults = []\n    faults.append(f'x is {x}')\n    raise RunoffError('no')\n"
        "class C:\n    def g(self):\n        warnings.warn('look', RunoffWarning)\n        raise KeyError('inner')\n"
        "def h(x):\n    yield x > 1, lambda: f'{x} is more'\n    yield x, 2\n",
        encoding="utf-8",
    )
    assert [one.key for one in catalogue.sentences(folder)] == [
        ("runoff/a.py", "f", "fault", "x is {x}"),
        ("runoff/a.py", "f", "RunoffError", "no"),
        ("runoff/a.py", "C.g", "warning", "look"),
        ("runoff/a.py", "h", "fault", "{x} is more"),
    ]


@pytest.mark.slow
def test_a_sentence_nobody_tests_has_no_test() -> None:
    never = "".join(
        reversed("}ruoloc{ evig ;eseehc neerg fo edam eb tsum noom eht")
    )  # backwards, or this test would know it
    assert catalogue.test_of(never) == "" and len(catalogue.parts(never)) == 1


@pytest.mark.parametrize("words", ["sorry", "oops", "invalid", "bad input", "unexpected error"])
def test_no_sentence_is_empty_talk(words: str) -> None:
    assert not [row["sentence"] for row in catalogue.rows() if words in row["sentence"].lower()]
