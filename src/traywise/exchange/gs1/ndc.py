"""National Drug Codes: ten digits inside a GTIN, and eleven for billing.

Where the hyphens stand (4-4-2, 5-3-2 or 5-4-1) cannot be seen from ten digits and is
never guessed.
"""

from __future__ import annotations

_LAYOUTS = ((4, 4, 2), (5, 3, 2), (5, 4, 1))
_BILLING = (5, 4, 2)


def ndc_in_gtin(gtin: str) -> str | None:
    """The ten digits of the NDC in a GTIN-14, None when the GTIN holds none.

    source  CDC with GS1 Healthcare US, 2D barcode material: 03 after the first digit

    >>> ndc_in_gtin("00349281589058")
    '4928158905'
    """
    return gtin[3:13] if len(gtin) == 14 and gtin[1:3] == "03" else None


def ndc_11(hyphenated: str) -> str | None:
    """Eleven digits, 5-4-2, from ten with hyphens; None when the layout is none of the three.

    source  21 CFR 207.33; HL7 US Core, Immunization

    >>> ndc_11("49281-121-65")
    '49281012165'
    """
    parts = hyphenated.split("-")
    if not all(part.isascii() and part.isdecimal() for part in parts):
        return None
    if tuple(len(part) for part in parts) not in (*_LAYOUTS, _BILLING):
        return None
    return "".join(part.zfill(length) for part, length in zip(parts, _BILLING, strict=True))
