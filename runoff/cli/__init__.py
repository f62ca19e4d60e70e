"""The command line: the same words as the Python functions, each command working without arguments on the sample."""

from runoff.cli.entry import main as main
from runoff.cli.entry import process as process
