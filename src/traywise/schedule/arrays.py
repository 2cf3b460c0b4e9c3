"""The two bundles of arrays that the rule logic works on."""

from collections.abc import MutableSequence, Sequence
from typing import NamedTuple

Numbers = MutableSequence[int]


class Table(NamedTuple):
    """A compiled edition and the month tables of the calendar, as the logic reads them.

    speaking  row numbers, list after list: which rows speak in which state of a group
    starts    where each list begins in ``speaking``; see G_LISTS
    """

    rows: Numbers
    conds: Numbers
    groups: Numbers
    speaking: Numbers
    starts: Numbers
    settings: Numbers
    month_of: Sequence[int]
    first_of: Sequence[int]


class Case(NamedTuple):
    """One child: the record in numbers, and room for what a group finds on its walk.

    events   dated conditions that the rows refer to; see EV_BITS
    live     places of the live doses, in the order of their days
    own      places of the doses that the group judges, in the order of their days
    valid    day and product lists of each valid dose of the group, or dose beside its series, two
             numbers a dose
    history  what the group knows so far, see layout
    """

    child: Numbers
    doses: Numbers
    antibodies: Numbers
    events: Numbers
    live: Sequence[int]
    own: Sequence[int]
    valid: Numbers
    history: Numbers
