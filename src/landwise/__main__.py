"""`python -m landwise`."""

from landwise.cli import main

main()
