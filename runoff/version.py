"""The version of the package, the one place where it stands."""

__version__ = "0.1.0"
