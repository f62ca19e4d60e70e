"""`runoff dossier`: writes, checks, and answers with an exit code."""

from __future__ import annotations

import pytest

from runoff.cli.entry import main

pytestmark = pytest.mark.usefixtures("remade_once")


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("command") / "d.html"
    code = main(
        ["dossier", "--out", str(path), "--members", "20", "--start", "2013", "--paper", "letter", "--seed", "7"]
    )
    return code, path


def test_it_writes_the_sample(written, capsys):
    code, path = written
    assert code == 0
    text = path.read_text(encoding="utf-8")
    assert "INVENTED SAMPLE" in text and "100 years" in text  # the sample brings its storms table
    assert "size: letter;" in text and '"seed": 7' in text


def test_it_checks_what_it_wrote(written, capsys):
    assert main(["dossier", "--verify", str(written[1])]) == 0
    assert capsys.readouterr().out.startswith("Everything reproduces: ")


def test_a_tampered_file_gives_exit_code_1(written, tmp_path, capsys):
    path = tmp_path / "t.html"
    path.write_text(written[1].read_text(encoding="utf-8").replace(">120</data>", ">150</data>"), encoding="utf-8")
    assert main(["dossier", "--verify", str(path)]) == 1
    out = capsys.readouterr().out
    assert "printed   area_m2 is printed as 150 m2, the file's own data say 120" in out
    assert out.startswith("DOES NOT REPRODUCE: ")


def test_a_file_that_is_not_there(tmp_path, capsys):
    assert main(["dossier", "--verify", str(tmp_path / "no.html")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("Refused, nothing was checked: ") and "there is no such file" in said


def test_a_folder_that_is_not_there(tmp_path, capsys):
    path = tmp_path / "no" / "x.html"
    assert main(["dossier", "--out", str(path), "--members", "20", "--start", "2014"]) == 1
    assert (
        capsys.readouterr().err == f"--out: there is no folder {path.parent}; make it, or choose another for x.html\n"
    )
