"""Every notebook runs offline, fast enough for a class, and its stored outputs are current and small."""

from pathlib import Path

import pytest

from tests.refresh_notebooks import FOLDER, run

NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))
MOST_BYTES = 400_000


def texts(notebook) -> list[str]:
    """Return what the outputs say, without pictures (a font release may move their bytes)."""
    found = []
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            found.append(output.get("text", "") or output.get("data", {}).get("text/plain", ""))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_runs_and_stored_outputs_are_current(path: Path) -> None:
    import nbformat

    stored = nbformat.read(path, as_version=4)
    fresh = run(path)
    assert texts(fresh) == texts(stored), (
        "outputs moved; run python -m tests.refresh_notebooks and look at what changed"
    )


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.name)
def test_reads_well_without_running(path: Path) -> None:
    import nbformat

    notebook = nbformat.read(path, as_version=4)
    assert path.stat().st_size <= MOST_BYTES
    assert "widgets" not in notebook.metadata, "widget state is stored; refresh the notebook"
    outputs = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert not [output for output in outputs if output["output_type"] == "error"]
    pictures = [output for output in outputs if "image/png" in output.get("data", {})]
    assert pictures, "no stored picture: a reader on a code host would see none"


def test_the_key_is_for_the_teacher_alone(tmp_path: Path) -> None:
    from runoff.cli import main

    assert main(["notebooks", "--to", str(tmp_path / "class")]) == 0
    names = {path.name for path in (tmp_path / "class").iterdir()}
    assert "06_why_water_has_to_drain.ipynb" in names
    assert not [name for name in names if "key" in name or "answer" in name]
    assert main(["notebooks", "--for", "teacher", "--to", str(tmp_path / "teacher")]) == 0
    assert {path.name for path in (tmp_path / "teacher").iterdir()} - names == {"06_key_for_the_teacher.md"}
