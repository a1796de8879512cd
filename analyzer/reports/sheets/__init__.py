"""Sheets to print and hand over: one document model, one module a kind of sheet, two renderers.

flight_sheet, trend_sheet, squawk_sheet and entry_sheet make a ``document.Sheet`` from the results;
html.py and pdf.py bring it to paper; the ``*_plot`` modules draw. Matplotlib, Jinja and Typst are imported
only by these renderers and plots, and only when a sheet is asked for.
"""

#: Papers that a sheet is laid out for.
PAPERS = ("a4", "letter")
