"""Where the tip of a needle comes to lie: millimetres under the skin, at an angle.

Depths are taken at right angles to the skin. A tip at 45 degrees lies 0.707 of the
inserted length deep. Simplified: skin that dents and needles that bend are left out.
"""

from __future__ import annotations

from math import radians, sin


def tip_depth_mm(length_mm: float, angle_deg: float = 90.0, outside_mm: float = 0.0) -> float:
    """Depth of the tip below the skin, for ``outside_mm`` of the needle left visible.

    length_mm  exposed needle length; angle_deg between needle and skin, above 0 to 90

    >>> round(tip_depth_mm(16, 45), 2), tip_depth_mm(25, 90, outside_mm=2.5)
    (11.31, 22.5)
    """
    return (length_mm - outside_mm) * sin(radians(angle_deg))


def track_in_muscle_mm(depth_mm: float, skin_to_muscle_mm: float, angle_deg: float) -> float:
    """Length of needle inside the muscle when the tip ends there; 0 when it falls short.

    >>> round(track_in_muscle_mm(11.31, 9.4, 45), 1), track_in_muscle_mm(8, 9.4, 90)
    (2.7, 0.0)
    """
    return max(depth_mm - skin_to_muscle_mm, 0.0) / sin(radians(angle_deg))
