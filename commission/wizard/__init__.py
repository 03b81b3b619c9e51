"""The window: a start screen, a board of units and pages, a page for each section.

The only place that imports PySide6. What is computed comes from `commission.validation`;
nothing here works out a number of its own.
"""
