"""The digest as one HTML file for an e-mail: styles inline, no script, nothing loaded, all text escaped."""

from __future__ import annotations

from html import escape

from analyzer.reports.cautions import CAUTIONS
from analyzer.reports.digest_words import Item, Section, headline, line_words, nothing_new, sections
from analyzer.reports.wording import printable
from analyzer.service.digest_result import Digest

#: Warning red and caution amber by the alerting convention, dark enough to read on white; the word stands beside.
_COLOURS = {"warning": "#a40000", "caution": "#7a4b00", "advisory": "#1a1a1a"}
_BODY = (
    "font-family:sans-serif;font-size:15px;line-height:1.4;color:#1a1a1a;background:#ffffff;max-width:44em;margin:1em"
)
_SMALL = "color:#444444;font-size:13px"


def digest_html(digest: Digest) -> str:
    """The digest as a whole HTML page."""
    body = [f"<p>{_safe(headline(digest))}</p>"]
    if (sentence := nothing_new(digest)) is not None:
        body.append(f"<p><strong>{_safe(sentence)}</strong></p>")
    body += [_section(section) for section in sections(digest)]
    body += [f'<p style="{_SMALL}">{_safe(caution)}</p>' for caution in CAUTIONS]
    title = _safe(f"Fleet digest since {digest.since:%Y-%m-%d}")
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}</title>\n</head>\n'
        f'<body style="{_BODY}">\n<h1 style="font-size:20px">{title}</h1>\n' + "\n".join(body) + "\n</body>\n</html>\n"
    )


def _section(section: Section) -> str:
    items = "\n".join(_item(item) for item in section.items)
    head = f'<h2 style="font-size:17px;margin-bottom:0.3em">{_safe(section.title)} ({len(section.items)})</h2>'
    return f'{head}\n<ul style="margin-top:0;padding-left:1.2em">\n{items}\n</ul>'


def _item(item: Item) -> str:
    tail = f"<strong>{_safe(item.tail)}</strong> " if item.tail else ""
    title = _safe(item.title)
    if item.severity:
        title = f'<strong style="color:{_COLOURS[item.severity]}">{_safe(item.severity.upper())}: {title}</strong>'
    lines = "".join(f'<br><span style="{_SMALL}">{_safe(line_words(line))}</span>' for line in item.lines)
    return f'<li style="margin-bottom:0.5em">{tail}{title}{lines}</li>'


def _safe(text: str) -> str:
    """A text escaped, without characters that no page shows."""
    return escape(printable(text), quote=True)
