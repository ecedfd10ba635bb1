"""What a page is made of: nothing from outside, no code, every figure described, headings in order."""

from __future__ import annotations

import base64
import itertools
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import pytest

from simkit.report import cautions
from simkit.report.exhibits import HTML, SVG, Block
from simkit.report.nightstudy import nights_of
from simkit.report.pages import PageFacts, write_page
from simkit.report.sections import (
    nights,
    nights_causes,
    nights_morning,
    times,
    times_people,
    times_physics,
    times_programs,
    times_standards,
)
from simkit.report.timestudy import times_of

PAGES = ("index", "today", "options", "nights", "times", "payback")
BESIDE = ("workbook.xlsx", "money.csv")
"""Files that lie in the folder of the report; a page may name them, and loads none by itself."""
FILLER = "No description has been provided for this image"
VOID = {"meta", "img", "br", "link", "hr", "input"}


class Page(HTMLParser):
    """The elements of a page in order, the text of headings, and whether every element is closed."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []
        self.text: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    @property
    def words(self):
        return re.sub(r"\s+", " ", "".join(self.text))


def outside(page: Page) -> list[str]:
    """Everything that would make a reader's program ask for more than the file itself."""
    found = [f"<{tag}>" for tag, _ in page.elements if tag in ("script", "iframe", "object", "embed", "link", "base")]
    for tag, attributes in page.elements:
        for name in ("src", "srcset", "href", "poster", "data", "action", "style"):
            value = attributes.get(name, "")
            inner = value.startswith(("data:image/", "#")) or re.fullmatch(r"[a-z]+\.html", value)
            inner = inner or (tag == "a" and value in BESIDE)
            if value and not inner:
                found.append(f"{tag} {name}={value[:60]}")
        found += [f"{tag} {name}" for name in attributes if name.startswith("on")]
    return found


@pytest.fixture(scope="module")
def pages(rendering):
    return {name: Page((rendering.out_dir / f"{name}.html").read_text(encoding="utf-8")) for name in PAGES}


@pytest.mark.parametrize("name", PAGES)
def test_nothing_comes_from_outside(pages, rendering, name):
    assert outside(pages[name]) == []
    named = {a["href"] for a in pages[name].all("a") if a.get("href") in BESIDE}
    assert all((rendering.out_dir / file).is_file() for file in named)
    assert named == (set(BESIDE) if name in ("index", "payback") else set())
    text = (rendering.out_dir / f"{name}.html").read_text(encoding="utf-8")
    (style,) = re.findall(r"<style[^>]*>(.*?)</style>", text, re.DOTALL)
    assert "url(" not in style
    assert "@import" not in style
    assert "http" not in pages[name].words


@pytest.mark.parametrize("name", PAGES[1:])
def test_figures_ask_for_nothing_either(pages, name):
    sources = [image["src"].split(",", 1) for image in pages[name].all("img")]
    drawings = [ET.fromstring(base64.b64decode(payload)) for kind, payload in sources if "svg" in kind]
    assert drawings
    for drawing in drawings:
        links = [v for e in drawing.iter() for k, v in e.attrib.items() if k.endswith("href")]
        assert links
        assert all(link.startswith(("#", "data:")) for link in links)


def test_an_outside_reference_is_seen():
    bad = '<img src="https://example.org/a.png"><script></script><a href="/other">x</a><p onclick="f()">x</p>'
    assert len(outside(Page(bad))) == 4


@pytest.mark.parametrize("name", PAGES)
def test_the_page_forbids_the_rest(pages, name):
    policies = [m["content"] for m in pages[name].all("meta") if m.get("http-equiv") == "Content-Security-Policy"]
    assert policies == ["default-src 'none'; img-src data:; style-src 'unsafe-inline'"]


@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_language_title_and_one_main_part(pages, name):
    page = pages[name]
    assert page.all("html") == [{"lang": "en"}]
    assert len(page.all("title")) == len(page.all("main")) == len(page.all("h1")) == 1
    assert page.open == []


@pytest.mark.parametrize("name", PAGES)
def test_headings_skip_no_level(pages, name):
    levels = [int(tag[1]) for tag, _ in pages[name].elements if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


@pytest.mark.parametrize("name", PAGES[1:])
def test_every_figure_is_described_by_us(pages, name):
    images = pages[name].all("img")
    assert images
    for image in images:
        assert len(image["alt"]) > 30
        assert FILLER not in image["alt"]


@pytest.mark.parametrize("name", PAGES[1:])
def test_every_table_head_says_what_it_heads(pages, name):
    heads = pages[name].all("th")
    assert heads
    assert {head["scope"] for head in heads} <= {"col", "row", "rowgroup"}


@pytest.mark.parametrize("name", PAGES)
def test_no_code_is_shown(pages, name):
    words = pages[name].words
    assert not any(piece in words for piece in ("import ", "show(", "open_study", "In [", "Out[", "DataFrame", "<"))


@pytest.mark.parametrize("name", PAGES)
def test_every_page_carries_the_standing_line_and_where_its_numbers_come_from(pages, rendering, name):
    words = pages[name].words
    assert cautions.STANDING in words
    assert cautions.UNCALIBRATED in words
    for head in ("Date of the data", "(SHA-256)", "Seed", "Replications", "Kit version"):
        assert head in words


def test_the_index_links_every_study(pages):
    links = [link["href"] for link in pages["index"].all("a") if link["href"].endswith(".html")]
    assert links == [
        "today.html",
        "options.html",
        "nights.html",
        "times.html",
        "payback.html",
    ]


def test_the_money_page_gives_no_advice(pages):
    assert cautions.MONEY in pages["payback"].words
    assert cautions.MONEY in pages["index"].words


def test_every_option_card_carries_the_standing_line(pages):
    cards = sum(attributes.get("class") == "option" for attributes in pages["options"].all("section"))
    assert cards == 6
    assert pages["options"].words.count(cautions.STANDING) == cards + 2


def test_the_page_of_nights_says_what_its_tables_say_and_cautions_come_first(pages, study):
    view = nights_of(study)
    words, cells = pages["nights"].words, "".join(pages["nights"].text)
    shown = (nights.set_table(view), nights.closed_form_table(view), nights_causes.ends_table(view),
             nights_causes.removed_table(view), nights_causes.order_table(view), nights_causes.help_table(view),
             nights_morning.morning_table(view), nights_morning.rivals_table(view))  # fmt: skip
    for block in shown:
        assert re.sub(r"\s+", " ", block.text) in words
        for row in block.content["rows"]:
            assert "".join((row.head, *row.cells)) in cells
    answer = words.index(re.sub(r"\s+", " ", nights.answer_nights(view).text)[:40])
    for head, _ in nights.CAUTIONS:
        assert words.index(f"{head}.") < answer
    assert words.index("assessed by: safety group, on 2026-01-02") < answer


def test_the_page_of_times_says_what_its_tables_say(pages, study):
    view = times_of(study)
    words, cells = pages["times"].words, "".join(pages["times"].text)
    shown = [times.family_table(view), times_physics.force_table(view), times_physics.energy_table(view),
             times_people.handling_table(view), times_people.removed_table(view), times_people.mass_table(view),
             times_standards.indicator_table(view), times_standards.timing_table(view),
             *times_programs.why_these(view, 8), *times_physics.findings_table(view)]  # fmt: skip
    for block in shown:
        if isinstance(block, Block):
            assert re.sub(r"\s+", " ", block.text) in words
            for row in block.content.get("rows", ()):
                assert "".join((row.head, *row.cells)) in cells


def test_an_undescribed_figure_fails_its_study(study, tmp_path):
    import nbformat

    output = nbformat.v4.new_output("display_data", {SVG: "<svg/>", "text/plain": "x"}, metadata={HTML: {}})
    cells = [nbformat.v4.new_markdown_cell("## Stops"), nbformat.v4.new_code_cell("show(x)", outputs=[output])]
    notebook = nbformat.v4.new_notebook(cells=cells)
    failure = write_page(tmp_path / "p.html", notebook, "today", PageFacts.of(study), {"today": "T"})
    assert failure is not None
    assert "no description" in failure.error
    assert "under “Stops”" in (tmp_path / "p.html").read_text(encoding="utf-8")
