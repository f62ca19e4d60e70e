"""Run the notebooks and store their outputs so that two refreshes give identical bytes.

``python -m tests.refresh_notebooks`` runs every notebook of ``notebooks/``; names may be given to run only some.
Times, kernel versions and widget numbers are left out or overwritten: they change with every run and say nothing.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jupyter_client.manager import AsyncKernelManager
    from nbformat import NotebookNode

FOLDER = Path(__file__).resolve().parents[1] / "notebooks"
SECONDS = 60  # no lesson may keep a class waiting longer

# a picture within the HTML of a result
_EMBEDDED = re.compile(r"(data:image/png;base64,)([A-Za-z0-9+/=]+)")

_WIDGET_VIEW = "application/vnd.jupyter.widget-view+json"


def run(path: Path, kernel: AsyncKernelManager | None = None, *, pictures: bool = True) -> NotebookNode:
    """Execute a notebook in its folder, offline, and return it with normalised outputs; in a kernel of its own unless one is given.

    Without `pictures` these are left as they came: who reads only the words is spared the time to make them small.
    """
    import nbformat
    from nbclient import NotebookClient

    notebook = nbformat.read(path, as_version=4)
    if kernel:
        notebook.cells.insert(0, nbformat.v4.new_code_cell(AS_IF_STARTED.format(folder=str(path.parent))))
    client = NotebookClient(
        notebook,
        km=kernel,
        timeout=SECONDS,
        kernel_name="python3",
        record_timing=False,
        resources={"metadata": {"path": str(path.parent)}},
    )
    client.execute(env={**os.environ, "MPLBACKEND": "module://matplotlib_inline.backend_inline"})  # as in JupyterLab
    if kernel:
        client.kc.stop_channels()
        del notebook.cells[0]
    return normalised(notebook, pictures=pictures)


#: What a kernel that has run another notebook does first.
AS_IF_STARTED = """\
import os
from matplotlib import pyplot
os.chdir({folder!r})
pyplot.close("all")
%reset -f
"""


@contextmanager
def one_kernel() -> Iterator[AsyncKernelManager]:
    """Yield a kernel for several notebooks, which then start and load the package once; each begins without names."""
    from jupyter_client.manager import AsyncKernelManager
    from nbclient.util import run_sync

    kernel = AsyncKernelManager(kernel_name="python3")
    try:
        yield kernel
    finally:
        if kernel.has_kernel:
            run_sync(kernel.shutdown_kernel)(now=True)


def normalised(notebook: NotebookNode, *, pictures: bool = True) -> NotebookNode:
    """Leave out what changes from run to run, and make pictures small."""
    notebook.metadata = {
        "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
        "language_info": {"name": "python"},
    }
    for number, cell in enumerate(notebook.cells):
        cell["id"] = f"cell-{number:02d}"
        cell.metadata.pop("execution", None)
        if cell.cell_type == "code":
            cell.outputs = _joined(cell.outputs)
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            if _WIDGET_VIEW in data:
                data[_WIDGET_VIEW]["model_id"] = "0" * 32
            if pictures and "image/png" in data:
                data["image/png"] = _smaller(data["image/png"])
            for kind in ("text/plain", "text/html"):
                if isinstance(data.get(kind), str):
                    data[kind] = re.sub(r"0x[0-9a-f]{6,}", "0x0", data[kind])
            if pictures and isinstance(data.get("text/html"), str):
                data["text/html"] = _EMBEDDED.sub(lambda found: found[1] + _smaller(found[2]), data["text/html"])
    return notebook


def _joined(outputs: list[NotebookNode]) -> list[NotebookNode]:
    """Join what was printed in pieces: where the pieces end depends on how busy the machine is."""
    found: list[NotebookNode] = []
    for output in outputs:
        before = found[-1] if found else {}
        if output.output_type == "stream" and before.get("output_type") == "stream" and before["name"] == output.name:
            before["text"] += output.text
        else:
            found.append(output)
    return found


def _smaller(picture: str) -> str:
    """Store a picture with 64 colours: a third of the size, and no eye tells the difference on a drawing."""
    import base64
    import io

    from PIL import Image

    image = Image.open(io.BytesIO(base64.b64decode(picture)))
    if image.mode == "P":
        return picture
    out = io.BytesIO()
    image.convert("RGB").quantize(64, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(
        out, "png", optimize=True
    )
    return base64.b64encode(out.getvalue()).decode("ascii")


def write_readme_figure() -> None:
    """Draw the figure of the README again."""
    import runoff
    from runoff.plots import save, year_figure

    run = runoff.simulate(runoff.open_sample_roof(), runoff.open_sample())
    save(year_figure(run, year=2014), FOLDER / "first_roof_year.png", dpi=100)


def main(names: list[str]) -> None:
    """Refresh the notebooks named, or all of them and the figure of the README."""
    import nbformat

    for path in sorted(FOLDER.glob("*.ipynb")):
        if not names or path.name in names or path.stem in names:
            nbformat.write(run(path), path)
            print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")
    if not names:
        write_readme_figure()


if __name__ == "__main__":
    main(sys.argv[1:])
