"""Make mutants of a module: one small fault each, by its syntax tree.

Kinds: another operator (+ to -, * to /), a moved bound (< to <=, > to <), a changed constant, a lost or added sign, min for max, a
negated condition, a step left out, two neighbouring steps changed round.
"""

from __future__ import annotations

import ast
import copy
import dataclasses
from collections.abc import Callable, Collection, Iterator

_OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult}
_BOUNDS = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq}
_TURNED = {ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE}
_PAIRS = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "sin": "cos", "cos": "sin"}
#: Calls whose arguments are words to a person, or types to a checker: a changed number there changes no result.
_WORDS = {"raise_faults", "warn", "label", "cast", "cache", "lru_cache", "TypeVar"}


@dataclasses.dataclass(frozen=True)
class Mutant:
    """One fault: where it is, what kind, and the source with it."""

    line: int
    column: int
    kind: str
    change: str
    source: str


def mutants(source: str, which: Callable[[int], Collection[int]] = range) -> list[Mutant]:
    """Return the mutants of a module's source: all, or those whose places `which` gives for how many there are."""
    tree = ast.parse(source)
    found = [(index, kind, change) for index, node in enumerate(_nodes(tree)) for kind, change in _changes(node)]
    made = []
    for place in which(len(found)):
        index, kind, change = found[place]
        fresh = copy.deepcopy(tree)
        target = _nodes(fresh)[index]
        at, before = (target.lineno, target.col_offset), _shown(target)
        words = change(target) or f"{before}  ->  {_shown(target)}"
        made.append(Mutant(*at, kind, words, ast.unparse(fresh)))
    return made


def _shown(node: ast.AST) -> str:
    return ast.unparse(node).split("\n")[0]


def _nodes(tree: ast.AST) -> list:
    """Return the nodes that may be changed, in a fixed order; texts, annotations, messages and imports are passed over."""
    found = []

    def walk(node: ast.AST) -> None:
        if isinstance(node, ast.JoinedStr | ast.Raise | ast.Import | ast.ImportFrom | ast.Assert):
            return
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
            return
        if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in _WORDS:
            return
        if hasattr(node, "lineno"):
            found.append(node)
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list"):
                continue
            for child in value if isinstance(value, list) else [value]:
                if isinstance(child, ast.AST):
                    walk(child)

    walk(tree)
    return found


def _changes(node: ast.AST) -> Iterator[tuple[str, object]]:  # noqa: C901 - one case per kind of fault
    match node:
        case ast.BinOp(op=op) if type(op) in _OPERATORS:
            yield "operator", lambda n: setattr(n, "op", _OPERATORS[type(n.op)]())
        case ast.Compare(ops=[op]) if type(op) in _BOUNDS:
            yield "bound", lambda n: setattr(n, "ops", [_BOUNDS[type(n.ops[0])]()])
            if type(op) in _TURNED:
                yield "turned", lambda n: setattr(n, "ops", [_TURNED[type(n.ops[0])]()])
        case ast.Constant(value=bool()):
            yield "constant", lambda n: setattr(n, "value", not n.value)
        case ast.Constant(value=int() | float()):
            yield (
                "constant",
                lambda n: setattr(n, "value", n.value * 1.1 if isinstance(n.value, float) and n.value else n.value + 1),
            )
        case ast.UnaryOp(op=ast.USub()):
            yield "sign", lambda n: setattr(n, "op", ast.UAdd())
        case ast.Name(id=name) if name in _PAIRS:
            yield "swapped", lambda n: setattr(n, "id", _PAIRS[n.id])
        case ast.Attribute(attr=name) if name in _PAIRS:
            yield "swapped", lambda n: setattr(n, "attr", _PAIRS[n.attr])
        case ast.If():
            yield "condition", lambda n: setattr(n, "test", ast.UnaryOp(ast.Not(), n.test))
        case ast.FunctionDef(body=body):
            steps = [i for i, one in enumerate(body) if isinstance(one, ast.Assign | ast.AugAssign)]
            for i in steps:
                if i + 1 in steps:
                    yield "order", lambda n, i=i: _swap(n.body, i)
                if isinstance(body[i], ast.AugAssign):
                    yield "left out", lambda n, i=i: _leave_out(n.body, i)


def _swap(body: list, i: int) -> str:
    """Change a step and the next one round, and say which."""
    body[i], body[i + 1] = body[i + 1], body[i]
    return f"{_shown(body[i + 1])}  after  {_shown(body[i])}"


def _leave_out(body: list, i: int) -> str:
    """Leave a step out, and say which."""
    words = f"without  {_shown(body[i])}"
    body[i] = ast.Pass()
    return words
