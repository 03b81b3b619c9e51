"""Start-up and commissioning workbook for packaged rooftop units."""

__version__ = "0.1.0"
