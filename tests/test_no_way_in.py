"""Nothing that is read can run: no pickles, no shell, no network, no text that becomes code, but for one place that is named."""

import ast
from pathlib import Path

import pytest

import runoff

ROOT = Path(runoff.__file__).parent
#: Modules that load code or data as code, start other programs, or speak to a network.
SHUT = {
    "pickle",
    "cPickle",
    "dill",
    "cloudpickle",
    "marshal",
    "shelve",
    "subprocess",
    "socket",
    "urllib.request",
    "http",
    "ftplib",
    "requests",
}
#: Calls by name, and the places where one is needed.
CALLS = {"eval", "exec", "system", "popen", "__import__"}
NEEDED = {
    ("balance/loop_choice.py", "exec")
}  # names of fields of our own, written out for a loop that cannot count them


def places() -> list[tuple[str, str]]:
    """Return every import of a shut module and every shut call: where, and which."""
    found = []
    for path in sorted(ROOT.rglob("*.py")):
        where = path.relative_to(ROOT).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found += [(where, one.name) for one in node.names if {one.name, one.name.partition(".")[0]} & SHUT]
            elif (
                isinstance(node, ast.ImportFrom) and node.module and {node.module, node.module.partition(".")[0]} & SHUT
            ):
                found.append((where, node.module))
            elif isinstance(node, ast.Call):
                name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
                shut = name in CALLS and not (name == "eval" and isinstance(node.func, ast.Attribute))
                keywords = {
                    one.arg for one in node.keywords if isinstance(one.value, ast.Constant) and one.value.value is True
                }
                if shut or keywords & {"shell", "allow_pickle"}:
                    found.append((where, name))
    return found


def test_nothing_that_is_read_can_run() -> None:
    assert set(places()) == NEEDED


def test_the_main_job_asks_no_network(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    import socket

    from runoff.cli.entry import main

    def refuse(*arguments: object, **words: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket, "socket", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    for words in (["simulate", "--start", "2011", "--no-figures", "--out", ""], ["order"], ["check-weather"]):
        assert main(words) == 0
    assert "INVENTED" in capsys.readouterr().out
