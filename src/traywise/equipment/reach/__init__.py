"""How likely a needle ends short of muscle, in muscle or at bone depth: a second opinion.

In: site, age, weight where known, needle length, angle, technique. Out: three shares
with their range, the studies and children behind them, and how near these are to the
child asked about; or "none" where nobody has measured. The length of the official table
is read here only to be compared. This room never chooses or changes a needle.
"""

from traywise.equipment.reach.answer import ReachAnswer, Share, reach
from traywise.equipment.reach.compare import SecondOpinion, second_opinion

__all__ = ["ReachAnswer", "SecondOpinion", "Share", "reach", "second_opinion"]
