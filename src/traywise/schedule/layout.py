"""Where each number of a compiled row, condition, group and setting stands.

The compiler writes these columns, the logic reads them; nothing here is a
clinical number.
"""

NONE = -1

# A span takes four columns: months and days, and the least and the most days that it can come to,
# which spare a comparison the calendar but for days near the limit.
MONTHS, DAYS, LEAST, MOST, SPAN_WIDTH = range(5)

# A limit that a row does not name lies this many days before or after every day.
FAR = 1_000_000

# Kinds of rows.
DOSE, BESIDE, EXTRA_DOSE, NOT_COUNTED, NO_FURTHER, IMMUNE, TOO_OLD, NOT_RECOMMENDED = range(8)

# After how many valid doses: the column holds low and high; these mark the rest.
AFTER_SERIES = 1000
ANY_NUMBER = 999

# Columns of a row: numbers, then spans.
(
    KIND,
    AFTER_LOW,
    AFTER_HIGH,
    COND_START,
    COND_PLAIN,
    COND_END,
    COUNTS,
    GIVEN_FROM,
    GIVEN_BEFORE,
    ENDS,
    JUDGE_ONLY,
    SHARED,
    SEASON_FIRST,
    SEASON_LAST,
    OTHER,
    DOSE_NUMBER,
    CAMPAIGN,
    GIVEN_WITH,
    ALONE,
    EVENT,
    EVENT_GRACE,
    FIRST_SPAN,
) = range(22)

# The limits of a row, twice: for planning a dose, and for judging a dose given, where grace days
# are taken off and some limits are wider.
FROM, BEFORE, MIN_AGE, OLD, MIN_INT, FIRST_INT, OTHER_INT, LIMITS_WIDTH = range(
    0, 8 * SPAN_WIDTH, SPAN_WIDTH
)
TO_PLAN = FIRST_SPAN
TO_JUDGE = TO_PLAN + LIMITS_WIDTH
REC_AGE = TO_JUDGE + LIMITS_WIDTH
OVERDUE_AGE = REC_AGE + SPAN_WIDTH
ROW_WIDTH = OVERDUE_AGE + SPAN_WIDTH

# Kinds of conditions and their columns.
(
    FIRST_AGE,
    PREVIOUS_AGE,
    LAST_INTERVAL,
    COUNT_DOSES,
    CHILD_ALL,
    CHILD_ANY,
    CHILD_NONE,
    SEX,
    DATED,
) = range(9)
(
    C_KIND,
    C_MASK,
    C_NOT_MASK,
    C_LEAST,
    C_MOST,
    C_AMONG,
    C_GIVEN,
    C_WITHIN,
    C_WITHIN_D,
    C_FROM,
) = range(10)
C_BEFORE = C_FROM + SPAN_WIDTH
COND_WIDTH = C_BEFORE + SPAN_WIDTH

# Which doses a COUNT_DOSES condition looks at (C_AMONG); NEAR_EVENT: less than C_WITHIN before
# the first day of the row's dated condition, or since it.
ALL_DOSES, BEFORE_SEASON, SINCE_EVENT, NEAR_EVENT = range(4)

# A DATED condition is as wide as the others; EVENT of its row is where it stands in ``conds``.
# E_LEAD is negative where the time opens only after the first day.
# E_TIME is one of the times below plus LAST_DAY where the row counts from the condition's end.
(
    E_TIME,
    E_MASK,
    E_LEAD,
    E_TRAIL,
    E_TRAIL_D,
    E_LASTS,
    E_MIN,
    E_MIN_D,
    E_LATE,
    E_LATE_D,
) = range(1, 11)
BEFORE_EVENT, DURING_EVENT, AFTER_EVENT, UNKNOWN_EVENT = range(4)
LAST_DAY = 4

# Columns of a group.
G_LISTS, G_MOST, G_YEARLY, G_LATE, G_LIVE, G_ANTIBODY, GROUP_WIDTH = range(7)

# A group's row lists: for each number of valid doses, the rows for judging a dose given, then
# the rows for offering one; both first without the rows that ask for a condition of the child,
# then, FLAGGED_LISTS further, with them, and DATED_LISTS further also with the rows that refer to
# a dated one. Numbers above G_MOST read the same rows; more lists come after the series. The
# conditions of a row from COND_PLAIN on are those that a child without any condition may fail.
JUDGING, OFFERING = range(2)
PLAIN_LISTS, FLAGGED_LISTS, DATED_LISTS, LISTS = range(0, 8, 2)

# Settings of an edition.
(
    S_LIVE_DAYS,
    S_LIVE_STRICT,
    S_LIVE_HOLDS,
    S_ANTIBODY_AFTER,
    S_LATE_AFTER,
    S_DATED,
    SETTINGS_WIDTH,
) = range(7)

# The child: one array of numbers. K_GIVEN holds the product lists of all doses given, K_LISTS says
# which row lists the child reads.
(
    K_BORN,
    K_SEX,
    K_FLAGS,
    K_ASSESS,
    K_DOSES,
    K_GIVEN,
    K_ANTIBODIES,
    K_EVENTS,
    K_LISTS,
    CHILD_WIDTH,
) = range(10)

# Columns of a dated condition of the child: its bits, first and last day; NONE: not known.
EV_BITS, EV_FIRST, EV_LAST, EVENT_WIDTH = range(4)

# Columns of a dose given.
D_DAY, D_PRODUCTS, D_LIVE, D_FLAW, DOSE_WIDTH = range(5)
FLAW_NONE, FLAW_PARTIAL, FLAW_EXPIRED = range(3)
CAMPAIGN_BIT = 1 << 62
"""Among the product lists of a dose: it is recorded as given in a campaign."""

# What a group knows while it walks through the history.
(
    H_SEASON,
    H_COUNT,
    H_TOTAL,
    H_BASE,
    H_LIVE_BAD,
    H_ENDED,
    H_LAST_DAY,
    HISTORY_WIDTH,
) = range(8)

# Verdict on a dose, per group: status, reason, row.
V_STATUS, V_REASON, V_ROW, VERDICT_WIDTH = range(4)
NOT_OF_GROUP, VALID, NOT_VALID, EXTRA = range(4)
(
    R_NONE,
    R_PRODUCT,
    R_TOO_YOUNG,
    R_TOO_OLD,
    R_INTERVAL,
    R_INTERVAL_FIRST,
    R_OTHER_PRODUCT,
    R_LIVE,
    R_ANTIBODY,
    R_PARTIAL,
    R_EXPIRED,
    R_COMPLETE,
    R_SAME_DAY,
    R_NO_ROW,
    R_DOES_NOT_COUNT,
    R_EVENT,
) = range(16)

# Forecast of a group.
(
    F_STATUS,
    F_DOSE,
    F_EARLIEST,
    F_DUE,
    F_OVERDUE,
    F_LATEST,
    F_ROW,
    F_UNTIL,
    F_VALID,
    FORECAST_WIDTH,
) = range(10)
(
    ST_DUE,
    ST_OVERDUE,
    ST_NOT_YET,
    ST_COMPLETE,
    ST_IMMUNE,
    ST_DEFERRED,
    ST_AGED_OUT,
    ST_CLINICIAN,
    ST_NOT_RECOMMENDED,
) = range(9)
