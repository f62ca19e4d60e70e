"""The table of sentences holds what the source says, and a test knows the words of each."""

from pathlib import Path

import pytest

from tests.messages import catalogue


def test_the_table_is_that_of_source_and_tests() -> None:
    assert catalogue.rows() == catalogue.written(), "run python -m tests.messages.catalogue, and look at what it prints"


def test_a_sentence_that_no_test_knows_says_why() -> None:
    silent = [(row["module"], row["sentence"]) for row in catalogue.rows() if not (row["test"] or row["note"])]
    assert not silent, f"no test knows these words, and no note says why: {silent}"


def test_sentences_are_found_whatever_way_they_are_said(tmp_path: Path) -> None:
    folder = tmp_path / "runoff"
    folder.mkdir()
    (folder / "a.py").write_text(
        "def f(x):\n    faults = []\n    faults.append(f'x is {x}')\n    raise RunoffError('no')\n"
        "class C:\n    def g(self):\n        warnings.warn('look', RunoffWarning)\n        raise KeyError('inner')\n",
        encoding="utf-8",
    )
    assert [one.key for one in catalogue.sentences(folder)] == [
        ("runoff/a.py", "f", "fault", "x is {x}"),
        ("runoff/a.py", "f", "RunoffError", "no"),
        ("runoff/a.py", "C.g", "warning", "look"),
    ]


def test_a_sentence_nobody_tests_has_no_test() -> None:
    never = "the moon must be made of " + "green cheese; give {colour}"
    assert catalogue.test_of(never) == "" and catalogue.parts(never) == ["the moon must be made of green cheese; give"]


@pytest.mark.parametrize("words", ["sorry", "oops", "invalid", "bad input", "unexpected error"])
def test_no_sentence_is_empty_talk(words: str) -> None:
    assert not [one.words for one in catalogue.sentences() if words in one.words.lower()]
