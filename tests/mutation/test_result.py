"""The committed result of the mutation check: enough faults, enough noticed, every survivor explained; and the maker of faults."""

import ast
import csv

from tests.mutation.mutants import mutants
from tests.mutation.run import RESULT, ROOT, TARGETS

ROWS = list(csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines()))


def test_enough_faults_were_tried_and_enough_were_noticed() -> None:
    assert len(ROWS) >= 150
    dead = sum(row["fate"] in ("killed", "timed out") for row in ROWS)
    assert dead / len(ROWS) >= 0.90
    assert {row["module"] for row in ROWS} == set(TARGETS)


def test_every_survivor_is_explained() -> None:
    silent = [
        f"{row['module']}:{row['line']} {row['change']}"
        for row in ROWS
        if row["fate"] == "survived" and not row["why_it_lives"]
    ]
    assert not silent


def test_modules_and_tests_named_exist() -> None:
    for module, (_, tests) in TARGETS.items():
        assert (ROOT / module).exists(), module
        assert all((ROOT / one.split("::")[0]).exists() for one in tests), module


def test_each_fault_changes_the_program_and_nothing_but_one_thing() -> None:
    source = "def f(a, b):\n    '''Words 1 + 2.'''\n    c = a + 2\n    d = max(c, -b)\n    return d if a < b else c\n"
    plain = ast.dump(ast.parse(source))
    made = mutants(source)
    assert {one.kind for one in made} == {"operator", "constant", "order", "swapped", "sign", "bound", "turned"}
    assert all(ast.dump(ast.parse(one.source)) != plain for one in made)
    assert all("Words 1 + 2." in one.source for one in made)  # texts are left alone
