"""No test reads or writes the user's cache folder."""

import os

os.environ["LANDWISE_CACHE"] = "off"
