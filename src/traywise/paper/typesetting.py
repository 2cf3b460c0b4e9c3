"""Runs Typst over a template of this folder: plain data in, PDF or PNG out.

Data travel as one JSON text in ``sys.inputs``; no text of a record ever becomes Typst code.
The fonts are those inside the typst package; fonts of the machine only lend letters that these
lack. Where even they lack one, the sheet says so, because a name with holes is no name.
Typst is loaded on the first call.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import msgspec

if TYPE_CHECKING:
    import typst

Paper = Literal["a4", "a5", "us-letter"]
PAPERS: tuple[Paper, ...] = ("a4", "a5", "us-letter")
BODY_FONT = "Libertinus Serif"
_FOLDER = Path(__file__).resolve().parent
Standard = Literal["1.7", "a-2b"]


def render_pdf(template: str, data: dict[str, Any], paper: Paper = "a4") -> bytes:
    """The PDF of a template; an archivable one (PDF/A-2b) when every letter has a shape.

    template  name of a .typ file in this folder
    data      what the template reads; must turn into JSON
    raises    ValueError for an unknown paper; typst's own error for a broken template
    """
    return _render(template, data, paper, "pdf", None)[0]


def render_png(
    template: str, data: dict[str, Any], paper: Paper = "a4", pixels_per_inch: int = 110
) -> list[bytes]:
    """The pages of a template as pictures."""
    return _render(template, data, paper, "png", pixels_per_inch)


def render_svg_png(svg: str, *, width_mm: float = 120, pixels_per_inch: int = 150) -> bytes:
    """One of our drawings as a picture with a white margin."""
    data = {"svg": svg, "width_mm": width_mm}
    return _render("drawing.typ", data, "a4", "png", pixels_per_inch)[0]


def _render(
    template: str, data: dict[str, Any], paper: Paper, kind: Literal["pdf", "png"], ppi: int | None
) -> list[bytes]:
    if paper not in PAPERS:
        raise ValueError(f'"{paper}" is no paper we set. Choose one of {", ".join(PAPERS)}.')
    import typst

    def run(holes: bool, standard: Standard) -> list[bytes]:
        inputs = {**data, "paper": paper, "letters_missing": holes}
        made = _compiler().compile(
            str(_FOLDER / template),
            format=kind,
            ppi=ppi,
            sys_inputs={"data": msgspec.json.encode(inputs).decode()},
            pdf_standards=standard if kind == "pdf" else None,
        )
        pages = made if isinstance(made, list) else [made]
        return [page for page in pages if page is not None]

    try:
        # PDF/A refuses a letter without a shape: the one reliable way to learn of it.
        return run(False, "a-2b")
    except typst.TypstError as error:
        if "could not be displayed" not in str(error):
            raise
    return run(True, "1.7")


@cache
def _compiler() -> typst.Compiler:
    """One compiler for the process: it keeps fonts and unchanged templates."""
    import typst

    return typst.Compiler(root=str(_FOLDER), font_paths=typst.Fonts(include_system_fonts=True))
