"""Parameters from measurements: a drying tray, or the overflow of a monitored roof."""

from runoff.calibration.fit_result import RoofFit as RoofFit
from runoff.calibration.monitored_roof import fit_roof as fit_roof
from runoff.calibration.observations import read_observed as read_observed
from runoff.calibration.samples import open_sample_tray as open_sample_tray
from runoff.calibration.tray import fit_tray as fit_tray
from runoff.calibration.tray_fit import TrayFit as TrayFit
from runoff.calibration.tray_log import TrayLog as TrayLog
from runoff.calibration.tray_log import read_tray_log as read_tray_log
