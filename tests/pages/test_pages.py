"""What every page of a report is made of: nothing from outside, no code, pictures described, short, and readable."""

from __future__ import annotations

import base64
import itertools
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import pytest

import simkit as sk
from simkit.desk.reporting import COMPARE, FIRST, SCENARIO
from simkit.report import cautions
from tests.report.rendered import MARKUP

FILLER = "No description has been provided for this image"
VOID = {"meta", "img", "br", "link", "hr", "input"}
UNSEEN = {"style", "title", "footer"}
INSIDE = re.compile(r"(\.\./)?([\w-]+/)?[\w-]+\.(html|csv|xlsx|pdf)")
"""Files of the report; a page may lead to them, and loads none by itself."""
LANDMARKS = ("header", "nav", "main", "footer", "h1")
BUDGETS = {FIRST: (350, 1, 2), COMPARE: (700, 2, 4), SCENARIO: (900, 3, 4)}
"""Words, tables and pictures that are visible before anything is unfolded; words in the first page's table do not
count."""
DETAIL, TRUST = (2500, 6, 5), (2500, 99, 5)
"""The same of a page of details, and of the page that holds every assumption."""
FIRST_MB, OTHER_MB = 1, 2


class Page(HTMLParser):
    """The elements of a page in order, its text, what of it is seen unfolded, and whether every element is closed."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.around: list[list[tuple[str, dict[str, str]]]] = []
        self.open: list[tuple[str, dict[str, str]]] = []
        self.text: list[str] = []
        self.shown: list[str] = []
        self.shown_in_tables: list[str] = []
        self.body: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        element = tag, {name: value or "" for name, value in attrs}
        self.elements.append(element)
        self.around.append(list(self.open))
        if tag not in VOID:
            self.open.append(element)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop()[0] == tag

    def handle_data(self, data):
        inside = [tag for tag, _ in self.open]
        if "style" not in inside:
            self.text.append(data)
        if not UNSEEN & set(inside):
            self.body.append(data)
            if is_unfolded(inside):
                (self.shown_in_tables if "table" in inside else self.shown).append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    def unfolded(self, tag):
        """How many of an element are seen before anything is unfolded."""
        found = zip(self.elements, self.around, strict=True)
        return sum(name == tag and is_unfolded([outer for outer, _ in around]) for (name, _), around in found)

    @property
    def words(self):
        return re.sub(r"\s+", " ", "".join(self.text))


def is_unfolded(inside: list[str]) -> bool:
    """Whether what stands in these elements is seen at once: the summary of what is folded is."""
    return "details" not in inside or "summary" in inside


def outside(page: Page) -> list[str]:
    """Everything that would make a reader's program ask for more than the file itself."""
    found = [f"<{tag}>" for tag, _ in page.elements if tag in ("script", "iframe", "object", "embed", "link", "base")]
    for tag, attributes in page.elements:
        for name in ("src", "srcset", "href", "poster", "data", "action", "style"):
            value = attributes.get(name, "")
            inner = value.startswith(("data:image/", "#")) or (tag == "a" and INSIDE.fullmatch(value))
            if value and not inner:
                found.append(f"{tag} {name}={value[:60]}")
        found += [f"{tag} {name}" for name in attributes if name.startswith("on")]
    return found


def count_words(pieces: list[str]) -> int:
    """Words and numbers in a text."""
    return len([word for word in " ".join(pieces).split() if re.search(r"\w", word)])


@pytest.fixture(scope="module")
def pages(rendering):
    """Each page that was made, by its file."""
    made = {page.file: (rendering.out_dir / page.file).read_text(encoding="utf-8") for page in rendering.report.pages}
    assert {"index.html", "compare.html", "trust.html"} < set(made)
    assert sum(name.startswith("scenarios/") for name in made) >= 3
    return {name: Page(text) for name, text in made.items()}


@pytest.fixture(scope="module")
def kinds(rendering):
    return {page.file: page.notebook for page in rendering.report.pages}


def wrong(pages, what) -> dict[str, object]:
    """What is wrong on which page, where anything is."""
    found = {name: what(page) for name, page in pages.items()}
    return {name: problem for name, problem in found.items() if problem}


def test_nothing_comes_from_outside(pages):
    assert wrong(pages, outside) == {}
    forbid = [{"default-src 'none'; img-src data:; style-src 'unsafe-inline'"}] * len(pages)
    policy = "Content-Security-Policy"
    assert [{m["content"] for m in p.all("meta") if m.get("http-equiv") == policy} for p in pages.values()] == forbid


def test_an_outside_reference_is_seen():
    bad = '<img src="https://example.org/a.png"><script></script><a href="/other">x</a><p onclick="f()">x</p>'
    assert len(outside(Page(bad))) == 4


def test_styles_and_pictures_ask_for_nothing_either(pages, rendering):
    for name in pages:
        text = (rendering.out_dir / name).read_text(encoding="utf-8")
        (style,) = re.findall(r"<style[^>]*>(.*?)</style>", text, re.DOTALL)
        assert not re.search(r"url\(|@import", style)
        assert "prefers-color-scheme: dark" in style
    drawn = 0
    for image in (image for page in pages.values() for image in page.all("img")):
        kind, payload = image["src"].split(",", 1)
        if "svg" in kind:
            drawing = ET.fromstring(base64.b64decode(payload))
            links = [value for e in drawing.iter() for key, value in e.attrib.items() if key.endswith("href")]
            assert all(link.startswith(("#", "data:")) for link in links)
            drawn += 1
    assert drawn >= len(pages)


def test_a_page_is_whole_and_has_its_landmarks(pages):
    for name, page in pages.items():
        assert page.open == [], name
        assert page.all("html") == [{"lang": "en"}], name
        assert len(page.all("title")) == 1, name
        assert [len(page.all(tag)) for tag in LANDMARKS] == [1] * len(LANDMARKS), name
        assert {"class": "skip", "href": "#main"} in page.all("a"), name
        assert page.all("main")[0]["id"] == "main", name
        assert page.all("nav")[0]["aria-label"], name


def test_headings_skip_no_level(pages):
    for name, page in pages.items():
        levels = [int(tag[1]) for tag, _ in page.elements if re.fullmatch(r"h[1-6]", tag)]
        assert levels[0] == 1, name
        assert all(after <= before + 1 for before, after in itertools.pairwise(levels)), name


def test_every_picture_is_described(pages):
    poor = wrong(pages, lambda page: [i["alt"] for i in page.all("img") if len(i["alt"]) <= 30 or FILLER in i["alt"]])
    assert poor == {}


def test_tables_name_their_heads_and_scroll_by_keyboard(pages):
    for name, page in pages.items():
        assert {head.get("scope") for head in page.all("th")} <= {"col", "row", "rowgroup"}, name
        for (tag, _), around in zip(page.elements, page.around, strict=True):
            if tag == "table":
                assert around[-1] == ("div", {"class": "scroll", "tabindex": "0"}), name
    assert all(page.all("table") for name, page in pages.items() if "/" not in name)


def test_no_code_is_shown(pages):
    code = re.compile(r"import |\bsk\.|In \[|Out\[|DataFrame|Axes|Traceback|object at 0x|<Scenario|<Study|http|\bnan\b")
    assert wrong(pages, lambda page: code.findall(" ".join(page.body))) == {}


def test_names_hold_markup_and_stay_text(pages):
    assert MARKUP in pages["index.html"].words
    assert wrong(pages, lambda page: [tag for tag, _ in page.elements if tag in ("i", "b", "u")]) == {}


def test_options_have_names_and_no_codes(pages, rendering):
    """Outside the foot, which lists the parameters of the notebook, and the list of findings, which quotes files."""
    ids = "|".join(sk.read_plant(rendering.plant_folder).options)
    code = re.compile(rf"(?<!option )\b(?:{ids})\b.{{0,20}}")
    assert wrong(pages, lambda page: code.findall(" ".join(page.body))) == {}


def test_every_page_carries_the_standing_line_and_where_its_numbers_come_from(pages):
    said = (cautions.STANDING, cautions.UNCALIBRATED, "Date of the data", "(SHA-256)", "Notebook", "Kit version")
    assert wrong(pages, lambda page: [piece for piece in said if piece not in page.words]) == {}


def test_a_page_is_no_longer_than_its_reader_has_time_for(pages, kinds):
    def too_long(name):
        words, tables, pictures = BUDGETS.get(kinds[name], TRUST if kinds[name] == "trust" else DETAIL)
        page = pages[name]
        text = page.shown if kinds[name] == FIRST else [*page.shown, *page.shown_in_tables]
        found = count_words(text), page.unfolded("table"), page.unfolded("img")
        return found if any(map(int.__gt__, found, (words, tables, pictures))) else None

    assert {name: found for name in pages if (found := too_long(name))} == {}


def test_pages_are_small(pages, rendering):
    sizes = {name: (rendering.out_dir / name).stat().st_size / 1e6 for name in pages}
    assert {n: mb for n, mb in sizes.items() if mb > (FIRST_MB if n == "index.html" else OTHER_MB)} == {}
