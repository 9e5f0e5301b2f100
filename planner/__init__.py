"""newtank: from an empty glass box to a stocked, stable reef tank, as a dated plan that test results move."""

__version__ = "0.1.0"
