"""Every error and warning of the package in one table, each with a test that knows its words.

``python -m tests.messages.catalogue`` writes `catalogue.csv` beside this file: module, function, kind, the sentence as the source
writes it, with what is filled in between braces, a test that holds words of it, and a note where no test does. A sentence is
known by its module, function and words, so that moved lines change nothing. A test counts when a run of at least `LEAST` letters
of its own text stands in the sentence, or the sentence's in it: that a test holds the words is read here, that it passes is its
own affair.
"""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
CATALOGUE = Path(__file__).with_name("catalogue.csv")
HEAD = ("module", "function", "kind", "sentence", "test", "note")
LEAST = 14
SHORTEST = 10  # of a part between two things filled in, when it stands whole in a test
#: The note of a place that adds a name to a sentence from elsewhere.
PASSED_ON = "passes a sentence on"
#: Lists that gather what is wrong with a file or an object, to be said in one message.
_GATHERED = ("faults", "problems", "wrong")
#: Never said to a person: a missing attribute of a module, an abstract method.
_NOT_SAID = ("AttributeError", "NotImplementedError", "StopIteration", "KeyError")


@dataclass(frozen=True)
class Sentence:
    """One place of the source that says something is wrong."""

    module: str
    function: str
    kind: str
    words: str
    line: int

    @property
    def key(self) -> tuple[str, str, str, str]:
        return self.module, self.function, self.kind, self.words


def _words(node: ast.expr) -> str:
    """Return a sentence as a reader of the table sees it: the text, and in braces what is filled in."""
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(
            str(part.value) if isinstance(part, ast.Constant) else "{" + ast.unparse(part.value) + "}"  # type: ignore[attr-defined]
            for part in node.values
        )
    return "{" + ast.unparse(node) + "}"


def _said(node: ast.AST) -> tuple[str, ast.expr] | None:
    """Return kind and sentence of a node that says something is wrong, or None."""
    if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and node.exc.args:
        kind = ast.unparse(node.exc.func).split(".")[-1]
        return None if kind in _NOT_SAID else (kind, node.exc.args[-1] if kind == "ArgumentError" else node.exc.args[0])
    if isinstance(node, ast.Yield) and isinstance(
        node.value, ast.Tuple
    ):  # whether it is so, and what gives the sentence
        given = node.value.elts[-1]
        return ("fault", given.body) if isinstance(given, ast.Lambda) else None
    if not (isinstance(node, ast.Call) and node.args and isinstance(node.func, ast.Attribute | ast.Name)):
        return None
    name = ast.unparse(node.func)
    if name.split(".")[-1] == "warn":
        return "warning", node.args[0]
    if name in {f"{gathered}.append" for gathered in _GATHERED} and isinstance(
        node.args[0], ast.JoinedStr | ast.Constant
    ):
        return "fault", node.args[0]
    return None


def sentences(root: Path = ROOT / "runoff") -> Iterator[Sentence]:
    """Yield every place of the package that says something is wrong, in the order of the source."""
    for path in sorted(root.rglob("*.py")):
        module = path.relative_to(root.parent).as_posix()
        stack: list[tuple[ast.AST, str]] = [(ast.parse(path.read_text(encoding="utf-8")), "")]
        found: list[Sentence] = []
        while stack:
            node, function = stack.pop()
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                function = f"{function}.{node.name}".lstrip(".")
            said = _said(node)
            if said:
                words = " ".join(_words(said[1]).split())
                found.append(Sentence(module, function, said[0], words, node.lineno))  # type: ignore[attr-defined]
            stack.extend((child, function) for child in ast.iter_child_nodes(node))
        yield from sorted(found, key=lambda one: one.line)


def parts(words: str) -> list[str]:
    """Return the fixed parts of a sentence, without what is filled in."""
    return [part.strip() for part in re.split(r"\{[^{}]*(?:\{[^{}]*\}[^{}]*)*\}", words) if len(part.strip()) >= 8]


@cache
def texts_of_tests() -> tuple[tuple[str, str], ...]:
    """Return every text that stands in a test, with the test it stands in."""
    found = []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        name = path.relative_to(ROOT).as_posix()
        stack: list[tuple[ast.AST, str]] = [(ast.parse(path.read_text(encoding="utf-8")), "")]
        while stack:
            node, function = stack.pop()
            if isinstance(node, ast.FunctionDef) and not function:
                function = node.name
            if isinstance(node, ast.JoinedStr):
                said = "\n".join(str(part.value) if isinstance(part, ast.Constant) else "" for part in node.values)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                said = node.value
            else:
                stack.extend((child, function) for child in ast.iter_child_nodes(node))
                continue
            said = re.sub(r"\\(.)", r"\1", said)  # a pattern's marks before dots and brackets
            place = f"{name}::{function}" if function else name
            found += [
                (piece.strip(), place) for piece in re.split(r"\.\*|[\n^$|\[\]]+", said) if len(piece.strip()) >= LEAST
            ]
    return tuple(found)


def test_of(words: str) -> str:
    """Return a test that holds words of a sentence, the one with most of them, or an empty text."""
    best, most = "", SHORTEST - 1
    for part in parts(words):
        for piece, place in texts_of_tests():
            if len(part) >= SHORTEST and part in piece:
                shared = len(part)
            elif piece in part:
                shared = len(piece)
            elif len(part) >= 30 and (part[:26] in piece or part[-26:] in piece):
                shared = 26
            else:
                continue
            if shared > most:
                best, most = place, shared
    return best


def rows() -> list[dict[str, str]]:
    """Return the committed table."""
    with CATALOGUE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def written() -> list[dict[str, str]]:
    """Return the table as source and tests make it; notes stay as they are."""
    notes = {tuple(row[name] for name in HEAD[:4]): row["note"] for row in rows()} if CATALOGUE.exists() else {}
    table = []
    for one in sentences():
        test = test_of(one.words)
        note = "" if test else notes.get(one.key) or ("" if parts(one.words) else PASSED_ON)
        table.append(dict(zip(HEAD, (*one.key, test, note), strict=True)))
    return table


def main() -> None:
    """Write the table and say what no test knows."""
    table = written()
    with CATALOGUE.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, HEAD, lineterminator="\n")
        out.writeheader()
        out.writerows(table)
    for row in table:
        if not row["test"] and row["note"] != PASSED_ON:
            print(f"{row['module']} {row['function']}: {row['sentence']}  [{row['note'] or 'no note'}]")
    print(f"{len(table)} sentences, {sum(bool(row['test']) for row in table)} of them known to a test")


if __name__ == "__main__":
    main()
