"""Sheets read back: the words of a PDF and of an HTML file, and what the HTML is made of."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field
from functools import lru_cache
from html.parser import HTMLParser

from pypdfium2 import PdfDocument

VOID = {"meta", "img", "col", "br", "hr"}


def pages(pdf: bytes) -> int:
    """How many pages a PDF has."""
    return len(PdfDocument(pdf))


def first_page_size(pdf: bytes) -> tuple[float, float]:
    """Width and height of a PDF's first page [points of 1/72 in]."""
    return PdfDocument(pdf)[0].get_size()


FOOT = re.compile(r"[^\n]*analysis taper \S+ · sheet made [^\n]*page \d+ of \d+")


def pdf_words(pdf: bytes) -> str:
    """All words of a PDF on one line, ligatures undone, without the feet of the pages."""
    return tidy("\n".join(FOOT.sub("", text) for text in page_texts(pdf)))


def pdf_feet(pdf: bytes) -> list[str]:
    """What stands at the foot of each page."""
    return [tidy(foot) for text in page_texts(pdf) for foot in FOOT.findall(text)]


@lru_cache(maxsize=4)  # words and feet of the same sheet are asked for in a row
def page_texts(pdf: bytes) -> list[str]:
    """What stands on each page; U+FFFE is a hyphen at a line's end, and the line goes on with the word's other part."""
    return [page.get_textpage().get_text_range().replace("\ufffe", "-") for page in PdfDocument(pdf)]


def tidy(words: str) -> str:
    """Words with single spaces, without places to break a word, ligatures and superscripts undone."""
    plain = unicodedata.normalize("NFKC", words.replace("\u200b", "").replace("\u03a9", "\u2126"))
    return re.sub(r"\s+", " ", plain).strip()


def packed(words: str) -> str:
    """Words without any space: a line end inside a cell may or may not leave one."""
    return tidy(words).replace(" ", "")


@dataclass
class Page(HTMLParser):
    """An HTML file taken apart."""

    tags: list[str] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    targets: list[str] = field(default_factory=list)  # of src, href and the like
    handlers: list[str] = field(default_factory=list)  # on... attributes
    alternatives: list[str] = field(default_factory=list)  # alt of pictures
    unclosed: list[str] = field(default_factory=list)
    spoken: list[str] = field(default_factory=list)
    styles: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag not in VOID:
            self.unclosed.append(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("src", "href", "action", "data", "poster", "srcset", "background"):
                self.targets.append(value or "")
            if name.startswith("on"):
                self.handlers.append(name)
            if name == "alt":
                self.alternatives.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.unclosed
        assert self.unclosed.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.unclosed:
            self.styles.append(data)
        elif self.unclosed:
            self.spoken.append(data)

    @property
    def words(self) -> str:
        return tidy(" ".join(self.spoken))


def page_of(html: str) -> Page:
    """The page, which must be whole: every element closed in order."""
    page = Page()
    page.feed(html)
    page.close()
    assert page.unclosed == []
    return page


def assert_stands_alone(html: str) -> Page:
    """No script, nothing from elsewhere, ids unique, pictures with words; the page for further looks."""
    page = page_of(html)
    assert html.startswith("<!DOCTYPE html>")
    assert not {"script", "link", "iframe", "object", "embed", "base", "form"} & set(page.tags)
    assert page.handlers == []
    assert all(target.startswith("data:image/svg+xml;base64,") for target in page.targets)
    assert not re.search(r"url\(|@import|expression\(", " ".join(page.styles))
    assert len(page.ids) == len(set(page.ids))
    assert len(page.alternatives) == page.tags.count("img")
    assert all(len(words) > 10 for words in page.alternatives)
    return page
