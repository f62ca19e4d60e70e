"""Lets ``python -m runoff`` do what the ``runoff`` command does."""

import sys

from runoff.cli.entry import process

sys.exit(process())
