"""Every notebook from a copied folder that cannot be written to, its cells backwards and then forwards: ``python -m tests.trials.notebooks_in_any_order [numbers]``.

Prints, by notebook, what stopped with a traceback in which order. Numbers (``04 06``) choose notebooks; default all. The super-user writes
anywhere, unless ``setpriv --bounding-set=-dac_override --inh-caps=-dac_override`` stands before the command.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from tests.refresh_notebooks import AS_IF_STARTED, FOLDER, SECONDS

if TYPE_CHECKING:
    from jupyter_client.manager import AsyncKernelManager
    from nbformat import NotebookNode


def tracebacks(notebook: NotebookNode, folder: Path, kernel: AsyncKernelManager | None = None) -> list[str]:
    """Run the code cells of a notebook backwards, then forwards, in one kernel in a folder; return the errors by cell.

    The kernel is a new one, unless one is given, whose names are taken away first.
    """
    import nbformat
    from nbclient import NotebookClient

    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    order = [*reversed(range(len(code))), *range(len(code))]
    mixed = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(code[number].source) for number in order], metadata=notebook.metadata
    )
    if kernel:
        mixed.cells.insert(0, nbformat.v4.new_code_cell(AS_IF_STARTED.format(folder=str(folder))))
    client = NotebookClient(
        mixed,
        km=kernel,
        timeout=2 * SECONDS,
        kernel_name="python3",
        allow_errors=True,
        resources={"metadata": {"path": str(folder)}},
    )
    client.execute(env={**os.environ, "MPLBACKEND": "module://matplotlib_inline.backend_inline"})
    if kernel:
        client.kc.stop_channels()
        del mixed.cells[0]
    found = []
    for place, (number, cell) in enumerate(zip(order, mixed.cells, strict=True)):
        way = "backwards" if place < len(code) else "forwards"
        found += [
            f"code cell {number + 1} {way}: {output.ename}: {output.evalue[:120]}"
            for output in cell.outputs
            if output.output_type == "error"
        ]
    return found


def main(numbers: list[str]) -> None:
    """Print what stopped with a traceback."""
    import nbformat

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "lessons"
        shutil.copytree(FOLDER, folder)
        folder.chmod(0o555)
        try:
            for path in sorted(folder.glob("*.ipynb")):
                if not numbers or path.name[:2] in numbers:
                    found = tracebacks(nbformat.read(path, as_version=4), folder)
                    print(f"{path.name}: {'; '.join(found) or 'no traceback'}", flush=True)
        finally:
            folder.chmod(0o755)


if __name__ == "__main__":
    main(sys.argv[1:])
