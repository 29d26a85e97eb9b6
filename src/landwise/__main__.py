"""`python -m landwise`."""

from landwise.cli import main

if __name__ == "__main__":
    main()
