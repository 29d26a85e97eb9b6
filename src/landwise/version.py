"""The version, in one place for the package, its reports and its files."""

__version__ = "0.2.0"
DATA_DATE = "November 2026"  # when the catalogue and the references were last gone through
