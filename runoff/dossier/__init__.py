"""The printable capture dossier: what a grant applicant hands in, and how anyone can check it."""

from runoff.dossier.drainage_sheet import write_drainage_sheet as write_drainage_sheet
from runoff.dossier.handing_in import write_dossier as write_dossier
from runoff.dossier.order_sheet import write_order_sheet as write_order_sheet
from runoff.dossier.verifying import verify_dossier as verify_dossier
