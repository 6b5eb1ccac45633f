"""A strict reading of the sheet: tags that match, ids that are unique, references that lead."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "input", "br", "link", "img", "hr"}
#: what an SVG part may hold without children
DRAWN = {"path", "circle", "text", "title", "desc", "g", "svg"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str | None]
    parent: Element | None
    children: list[Element] = field(default_factory=list)
    text: str = ""

    def all(self, tag: str) -> list[Element]:
        found = [self] if self.tag == tag else []
        return found + [e for child in self.children for e in child.all(tag)]

    def words(self) -> str:
        return self.text + "".join(child.words() for child in self.children)

    def get(self, name: str) -> str:
        return self.attributes.get(name) or ""


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("root", {}, None)
        self.at = self.root
        self.faults: list[str] = []

    def handle_starttag(self, tag, attrs):
        names = [name for name, _ in attrs]
        if len(set(names)) < len(names):
            self.faults.append(f"an attribute twice in <{tag}>, line {self.getpos()[0]}")
        element = Element(tag, dict(attrs), self.at)
        self.at.children.append(element)
        if tag not in VOID:
            self.at = element

    def handle_startendtag(self, tag, attrs):
        if tag not in DRAWN:
            self.faults.append(f"<{tag}/> is not closed by a slash in HTML")
        self.at.children.append(Element(tag, dict(attrs), self.at))

    def handle_endtag(self, tag):
        if self.at.tag != tag:
            self.faults.append(f"</{tag}> closes <{self.at.tag}>, line {self.getpos()[0]}")
        elif self.at.parent is not None:
            self.at = self.at.parent

    def handle_data(self, data):
        self.at.text += data


def read_html(page: str) -> tuple[Element, list[str]]:
    """Return the page's tree and what is wrong with it."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    faults = reader.faults
    if reader.at is not reader.root:
        faults.append(f"<{reader.at.tag}> is never closed")

    def walk(element: Element) -> list[Element]:
        return [element, *(e for child in element.children for e in walk(child))]

    every = walk(reader.root)
    ids = [e.get("id") for e in every if e.get("id")]
    faults += [f"id {i} twice" for i in set(ids) if ids.count(i) > 1]
    for e in every:
        targets = [*e.get("aria-labelledby").split(), e.get("for"), e.get("href")[1:]]
        faults += [f"<{e.tag}> points to no {t}" for t in targets if t and t not in ids]
    return reader.root, faults
