"""The committed result of the mutation check: enough faults, enough noticed, every survivor explained; and the maker of faults."""

import ast
import csv

from tests.mutation.mutants import mutants
from tests.mutation.run import RESULT, ROOT, TARGETS, digest_of, fresh

ROWS = list(csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines()))


def test_enough_faults_were_tried_and_enough_were_noticed() -> None:
    # what was tried on a module that has changed since says nothing of it and does not count
    still_true = fresh(ROWS)
    modules = {row["module"] for row in still_true}
    stale = sorted({row["module"] for row in ROWS} - modules)
    told = (
        f"changed since they were tried: {', '.join(stale) or 'none'}; run python -m tests.mutation.run --only MODULE"
    )
    assert len(modules) >= 6 and len(still_true) >= 100, told
    # what makes no difference to any number cannot be noticed, and is counted neither way
    telling = [row for row in still_true if not row["why_it_lives"].startswith("no difference")]
    dead = sum(row["fate"] in ("killed", "timed out") for row in telling)
    assert dead / len(telling) >= 0.90
    assert {row["module"] for row in ROWS} == set(TARGETS), "every module of the list was tried once"


def test_a_changed_module_is_stale_and_a_changed_word_is_not() -> None:
    source = 'def f(x):\n    """Words."""\n    return x + 1  # why\n'
    assert digest_of(source) == digest_of(source.replace("Words", "Other words").replace("why", "how"))
    assert digest_of(source) != digest_of(source.replace("+ 1", "+ 2"))
    row = dict(ROWS[0])
    assert fresh([row | {"digest": "0"}]) == []


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
