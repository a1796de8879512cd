"""Judge a light aircraft's battery, alternator and regulator from its recorded volts and amperes."""

__version__ = "0.1.0"
