"""A sheet as one HTML file: no script, nothing from a network, charts inside it."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.reports.sheets.document import Sheet, as_data


@dataclass(frozen=True, slots=True)
class Layout:
    """How a sheet lies on one paper; lengths as CSS."""

    page: str
    margins: str
    ten_points: str  # what is ten points high on A4


#: Letter is 18 mm shorter than A4, so it is set a little smaller.
LAYOUTS = {"a4": Layout("A4", "12mm 14mm 13mm", "10pt"), "letter": Layout("letter", "10mm 14mm 11mm", "9.5pt")}


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
        **data, layout=LAYOUTS[paper], foot_css=_css_string(data["foot"])
    )


def _css_string(words: str) -> str:
    """Words as the inside of a CSS string: what is neither a letter nor a digit stands as its code point.

    So nothing in them can end the string, the rule or the style element (CSS Syntax Level 3, section 4.3.7).
    """
    return "".join(c if c.isalnum() and c.isascii() else f"\\{ord(c):06x}" for c in words)
