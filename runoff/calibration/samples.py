"""The sample of a tray on the scales in the invented town of Ostrey."""

from __future__ import annotations

from runoff.calibration.invented_weighings import TRAY_FILE
from runoff.calibration.tray_log import TrayLog, read_tray_log
from runoff.sample_files import sample_folder


def open_sample_tray() -> TrayLog:
    """Return the log of an invented tray that was weighed for two months while it dried.

    Returns
    -------
    TrayLog
        As `runoff.read_tray_log` reads it from the sample file; marked as invented.
    """
    return read_tray_log(sample_folder() / TRAY_FILE)
