"""From what the line worked out to Figures: each with its interval, its limit, its verdict and its trail."""

from landwise.judging.figures import figures_of as figures_of
