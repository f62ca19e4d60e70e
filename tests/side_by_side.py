"""Files side by side: what shares a long set-up goes to one process, so that the set-up is made once.

Loaded by `tests/conftest.py` only where pytest-xdist runs.
"""

from __future__ import annotations

from xdist.scheduler import LoadFileScheduling

#: Folders whose files share dossiers, or a notebook server and a browser.
TOGETHER = ("tests/browser/", "tests/dossier/")


def unit_of(nodeid: str) -> str:
    """Return what is handed to one process as a whole: a file, or a folder that stays together."""
    return next((folder for folder in TOGETHER if nodeid.startswith(folder)), nodeid.partition("::")[0])


class FilesTogether(LoadFileScheduling):
    """As ``--dist loadfile``, with some folders in one piece."""

    def _split_scope(self, nodeid: str) -> str:
        return unit_of(nodeid)
