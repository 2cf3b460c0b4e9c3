"""What every text of a child or a day shares: facts that stay together, sources, edition, care."""

from __future__ import annotations

from collections.abc import Iterable

from traywise.paper.columns import Page
from traywise.paper.facts import edition_words
from traywise.paper.wording import CARE, plain
from traywise.rulebook.tables import describe_sources

NO_BREAK = "\u00a0"


def kept(text: str) -> str:
    """A fact that should not be broken over two lines."""
    return text.replace(" ", NO_BREAK)


def finish(page: Page, lines: list[str], sources: Iterable[str], edition: str) -> str:
    """The whole text: the lines, their sources, then edition and care below a rule."""
    texts = describe_sources(source for source in sources if source)
    if texts:
        lines = [*lines, "", *page.wrap(f"Sources: {' · '.join(map(plain, texts))}.")]
    foot = [*page.wrap(f"Edition: {edition_words(edition)}."), *page.wrap(CARE)]
    return "\n".join([*lines, page.rule, *foot]).replace(NO_BREAK, " ") + "\n"
