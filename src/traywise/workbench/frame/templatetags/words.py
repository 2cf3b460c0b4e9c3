"""Filters that say the rooms' data in the paper room's words."""

from __future__ import annotations

from typing import Any

from django import template

from traywise.equipment.steps import minutes_text
from traywise.paper.wording import day as day_words
from traywise.paper.wording import (
    dose_words,
    group_status,
    needle_words,
    not_today_status,
    supply_words,
    volume_words,
)
from traywise.rulebook.tables import describe_source, is_from_memory
from traywise.tray.plan import NotToday, Place, Supply

register = template.Library()


@register.filter
def in_words(thing: Any) -> str:
    """A supply, a needle or a volume as people say it."""
    return supply_words(thing) if isinstance(thing, Supply) else needle_words(thing)


@register.filter
def ml(volume: float) -> str:
    return volume_words(volume)


@register.filter
def spoken_minutes(minutes: int) -> str:
    return minutes_text(minutes)


@register.filter
def dose_of(place: Place) -> str:
    """ "dose 2 of each" """
    return dose_words(place.dose_numbers, place.groups)


@register.filter
def status_of(forecast: Any) -> Any:
    """Shape, word and tone of a group or of what is not given today."""
    return not_today_status(forecast) if isinstance(forecast, NotToday) else group_status(forecast)


@register.filter
def on_day(value: Any) -> str:
    return day_words(value)


@register.filter
def source_words(source: str) -> str:
    """A source by title; a value from memory says so."""
    text = describe_source(source)
    if is_from_memory(source) and "from memory" not in text:
        text += " (from memory)"
    return text


TONES = {"●": "go", "▲": "io", "◆": "wt", "◇": "mute", "■": "stopped"}


@register.filter
def tone(shape: str) -> str:
    """The colour class that goes with a shape; the shape says it already."""
    return TONES.get(shape, "mute")


@register.filter
def spaced(answer: str) -> str:
    """An answer's key as words: "moderate-or-severe" is read "moderate or severe"."""
    return answer.replace("-", " ")
