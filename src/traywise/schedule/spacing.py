"""What keeps a dose and other products apart: live vaccines and antibody products."""

from traywise.schedule import layout as c
from traywise.schedule.arrays import Case, Table


def live_conflict(family: int, day: int, t: Table, case: Case) -> int:
    """Last other live dose that is too near before ``day``, or NONE.

    Two doses of one family are spaced by their rows; a dose of several families
    (MMRV) conflicts with each of them. In a strict edition every live dose counts.
    """
    strict = t.settings[c.S_LIVE_STRICT]
    last = c.NONE
    for number in range(len(case.live)):
        at = case.live[number] * c.DOSE_WIDTH
        if not day - t.settings[c.S_LIVE_DAYS] < case.doses[at + c.D_DAY] < day:
            continue
        other = case.doses[at + c.D_LIVE]
        single = other & (other - 1) == 0 and family & (family - 1) == 0
        if (strict or other != family or not single) and case.doses[at + c.D_DAY] > last:
            last = case.doses[at + c.D_DAY]
    return last


def antibody_conflict(day: int, case: Case) -> int:
    """Day from which a dose may follow the antibody products that hold it back on ``day``."""
    until = c.NONE
    for i in range(case.child[c.K_ANTIBODIES]):
        if (
            case.antibodies[2 * i] <= day < case.antibodies[2 * i + 1]
            and case.antibodies[2 * i + 1] > until
        ):
            until = case.antibodies[2 * i + 1]
    return until


def antibody_after(day: int, t: Table, case: Case) -> bool:
    """Whether an antibody product followed a dose too soon."""
    for i in range(case.child[c.K_ANTIBODIES]):
        received = case.antibodies[2 * i]
        if (
            case.antibodies[2 * i + 1] > received
            and day <= received < day + t.settings[c.S_ANTIBODY_AFTER]
        ):
            return True
    return False
