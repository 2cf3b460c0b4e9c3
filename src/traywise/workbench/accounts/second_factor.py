"""The second factor: six digits by time (RFC 6238), or a recovery code, each of one use."""

from __future__ import annotations

import hashlib
import re
import secrets
import time

import pyotp
from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe

from traywise.workbench.accounts.models import RecoveryCode, SecondFactor, Staff

STEP_SECONDS = 30
STEPS_ASIDE = 1  # a telephone's clock may be half a minute off
RECOVERY_CODES = 8
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is read as another
_GROUPS, _GROUP_LETTERS = 4, 4  # 79 bits: a digest without salt cannot be searched


def is_on(staff: Staff) -> bool:
    """Whether this person is asked for a code at sign-in."""
    return SecondFactor.objects.filter(staff=staff, confirmed_at__isnull=False).exists()


def begin(staff: Staff) -> SecondFactor:
    """The factor as it is being set up; looked at again, it is the same one."""
    factor, _ = SecondFactor.objects.get_or_create(
        staff=staff, defaults={"secret": pyotp.random_base32()}
    )
    return factor


def confirm(factor: SecondFactor, code: str) -> list[str]:
    """Switch the factor on with its first code; the recovery codes, or none for a wrong code."""
    with transaction.atomic():
        if not _is_code_of_now(factor, code):
            return []
        SecondFactor.objects.filter(pk=factor.pk).update(confirmed_at=timezone.now())
        return renew_recovery_codes(factor.staff)


def switch_off(staff: Staff) -> bool:
    """Forget secret and recovery codes; whether there was a factor."""
    with transaction.atomic():
        RecoveryCode.objects.filter(staff=staff).delete()
        found, _ = SecondFactor.objects.filter(staff=staff).delete()
    return bool(found)


def renew_recovery_codes(staff: Staff) -> list[str]:
    """Fresh codes in place of all earlier ones. They can be read only now."""
    codes = [_random_code() for _ in range(RECOVERY_CODES)]
    with transaction.atomic():
        RecoveryCode.objects.filter(staff=staff).delete()
        RecoveryCode.objects.bulk_create(
            RecoveryCode(staff=staff, digest=_digest(code)) for code in codes
        )
    return codes


def recovery_codes_left(staff: Staff) -> int:
    return RecoveryCode.objects.filter(staff=staff, used_at=None).count()


def is_right(staff: Staff, text: str) -> bool:
    """Whether ``text`` is this person's code of now or an unused recovery code; uses it up."""
    factor = SecondFactor.objects.filter(staff=staff, confirmed_at__isnull=False).first()
    if factor is None:
        return False
    if _is_code_of_now(factor, text):
        return True
    spared = RecoveryCode.objects.filter(staff=staff, digest=_digest(text), used_at=None)
    return bool(spared.update(used_at=timezone.now()))


def _is_code_of_now(factor: SecondFactor, text: str) -> bool:
    digits = re.sub(r"\s", "", text)
    maker = pyotp.TOTP(factor.secret, interval=STEP_SECONDS)
    now = int(time.time()) // STEP_SECONDS
    for step in range(now - STEPS_ASIDE, now + STEPS_ASIDE + 1):
        if secrets.compare_digest(maker.generate_otp(step).encode(), digits.encode()):
            # One statement looks and marks, so that a code seen over a shoulder is worth nothing.
            unused = SecondFactor.objects.filter(pk=factor.pk, last_step__lt=step)
            return bool(unused.update(last_step=step))
    return False


def _random_code() -> str:
    letters = "".join(secrets.choice(_LETTERS) for _ in range(_GROUPS * _GROUP_LETTERS))
    return "-".join(re.findall("." * _GROUP_LETTERS, letters))


def _digest(code: str) -> str:
    plain = re.sub(r"[\s-]", "", code).casefold()
    return hashlib.sha256(f"traywise recovery {plain}".encode()).hexdigest()


def address_of(factor: SecondFactor) -> str:
    """What a code-making program reads from the picture."""
    maker = pyotp.TOTP(factor.secret, interval=STEP_SECONDS)
    issuer = f"Traywise {settings.CLINIC}".replace(":", " ")
    return str(maker.provisioning_uri(name=factor.staff.username, issuer_name=issuer))


def picture_of(factor: SecondFactor) -> SafeString:
    """The address as a QR code, an SVG without script or style."""
    import zxingcpp

    code = zxingcpp.create_barcode(address_of(factor), zxingcpp.BarcodeFormat.QRCode)
    drawn: str = zxingcpp.write_barcode_to_svg(code)
    size, path = re.search(r'width="(\d+)"', drawn), re.search(r'<path d="([\dMhvHVZz -]+)"', drawn)
    if size is None or path is None:
        return SafeString("")  # the secret stands beside it as text
    n = size[1]
    # Only digits and path letters come from the drawing; nothing typed is in it.
    return mark_safe(  # noqa: S308
        f'<svg xmlns="http://www.w3.org/2000/svg" class="code-picture" viewBox="0 0 {n} {n}" '
        f'width="{4 * int(n)}" height="{4 * int(n)}" role="img" shape-rendering="crispEdges">'
        f"<title>The secret as a picture for your code-making program</title>"
        f'<rect width="{n}" height="{n}" fill="#fff"/><path d="{path[1]}" fill="#000"/></svg>'
    )
