"""A sheet as one HTML file: no script, nothing from a network, charts inside it."""

from __future__ import annotations

from analyzer.reports.sheets.document import Sheet, as_data

PAGE_SIZES = {"a4": "A4", "letter": "letter"}


def html(sheet: Sheet, paper: str = "a4") -> str:
    """The sheet as an HTML document; every word is escaped by the template's engine.

    Parameters
    ----------
    sheet : what to print
    paper : "a4" or "letter"
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    engine = Environment(
        loader=PackageLoader("analyzer.reports.sheets", "."), autoescape=True, undefined=StrictUndefined
    )
    data = as_data(sheet)
    return engine.get_template("sheet.html.jinja").render(
        **data, page_size=PAGE_SIZES[paper], foot_css=_css_string(data["foot"])
    )


def _css_string(words: str) -> str:
    """Words as the inside of a CSS string: what is neither a letter nor a digit stands as its code point.

    So nothing in them can end the string, the rule or the style element (CSS Syntax Level 3, section 4.3.7).
    """
    return "".join(c if c.isalnum() and c.isascii() else f"\\{ord(c):06x}" for c in words)
