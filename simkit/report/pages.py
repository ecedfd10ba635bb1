"""Executed notebooks become pages: own template, no code, no script, nothing from outside the file."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from nbconvert import HTMLExporter
from traitlets.config import Config

from simkit.base.files import write_whole
from simkit.report.exhibits import TEMPLATES

ERROR_TAG = "papermill-error-cell-tag"
WITHDRAWN = (
    "<!doctype html><html lang='en'><meta charset='utf-8'><title>Withdrawn</title>"
    "<p>This page was made from other inputs. To make it again: simkit report. <a href='index.html'>Index</a></p>"
    "</html>\n"
)
"""What stands in the place of a page whose numbers hold no more."""
HIDDEN_TAGS = ("remove-cell", "parameters", "injected-parameters", ERROR_TAG)


def page_of(notebook: Any, content: Mapping[str, Any]) -> str:
    """The page of an executed notebook without its code; ``content`` is what the template ``study`` asks for."""
    html, _ = _exporter().from_notebook_node(notebook, resources={"study": content})
    return str(html)


def withdraw_pages(out_dir: Path, names: Iterable[str]) -> list[str]:
    """Empty pages that were made from other inputs, so that no link leads to old numbers; return which."""
    there = [name for name in names if (out_dir / name).is_file()]
    found = [name for name in there if (out_dir / name).read_text(encoding="utf-8") != WITHDRAWN]
    for page in found:
        write_whole(out_dir / page, WITHDRAWN)
    return found


def _exporter() -> HTMLExporter:
    config = Config()
    config.TagRemovePreprocessor.enabled = True
    config.TagRemovePreprocessor.remove_cell_tags = HIDDEN_TAGS
    return HTMLExporter(  # type: ignore[no-untyped-call]
        config=config,
        template_name="study",
        extra_template_basedirs=[str(TEMPLATES)],
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
        embed_images=True,
    )
