"""The clinic's needle policy: the authority whose table of needles and sites its trays follow."""

from __future__ import annotations

from django.conf import settings

from traywise.equipment.policy import policy_chain, policy_text
from traywise.equipment.tables import policies


def clinic_policy() -> str:
    """What the setting names: a key of needles.toml, or the path of a file like it."""
    return str(settings.NEEDLE_POLICY)


def policy_words(key: str) -> str:
    """A tray's policy in words, by the key that stands on it; "" for a tray without places.

    A tray that was laid under another policy keeps the name of that one.

    >>> policy_words("who-programme")[:37]
    'Needle policy: WHO programme: fixed n'
    """
    if not key:
        return ""
    if key in policies():
        return policy_text(key)
    now = clinic_policy()
    # Only the clinic's own file has a key that is not shipped; one of the past is known by name.
    if policy_chain(now)[0].head.key == key:
        return policy_text(now)
    return f"Needle policy: {key}."
