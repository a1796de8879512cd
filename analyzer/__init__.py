"""Judge a light aircraft's battery, alternator and regulator from its recorded volts and amperes."""

__version__ = "0.1.0"

#: Version of the machine-readable results.
CONTRACT = 1
