"""The version, in one place for the package, its reports and its files."""

__version__ = "0.1.0"
