"""Every fault code of the schedule: what it means and what to do. ``docs/faults.md`` lists them."""

from __future__ import annotations

FAULTS: dict[str, tuple[str, str]] = {
    "schedule.W001": ("A dose lies after the day of the answer; left out.", "Correct its date."),
    "schedule.W002": ("The edition is more than a year old.", "Check the current schedule."),
    "schedule.W003": ("The day of the answer lies before birth.", "Correct one of the two."),
    "schedule.W004": ("A dose lies before birth; left out.", "Correct its date."),
    "schedule.W005": ("An antibody product is of an unknown kind.", "Use a key of the table."),
    "schedule.W006": ("The edition in use carries a warning.", "Do what the warning says."),
}
