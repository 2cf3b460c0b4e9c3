"""A person of the staff, and failed sign-ins."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.hashers import check_password, make_password
from django.core.validators import RegexValidator
from django.db import models
from django.utils import timezone

from traywise.workbench.accounts.roles import COORDINATOR, ROLES, may


class StaffManager(BaseUserManager):
    """Makes accounts; needed by Django's own commands."""

    def create_user(self, username: str, password: str, **fields: Any) -> Staff:
        staff = Staff(username=username, **fields)
        staff.set_password(password)
        staff.save()
        return staff

    def create_superuser(self, username: str, password: str, **fields: Any) -> Staff:
        return self.create_user(username, password, **({"role": COORDINATOR} | fields))


class Staff(AbstractBaseUser):
    """One account. ``pin`` wakes a resting screen; it never signs in by itself."""

    username = models.CharField(
        "sign-in name",
        max_length=40,
        unique=True,
        validators=[
            RegexValidator(r"^[\w.@-]+$", "Use letters, digits, dot, dash or underscore, no space.")
        ],
    )
    full_name = models.CharField("name as colleagues know it", max_length=80)
    role = models.CharField(max_length=20, choices=[(role, role) for role in ROLES])
    is_active = models.BooleanField("may sign in", default=True)
    pin = models.CharField(max_length=200, blank=True)

    objects = StaffManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["full_name"]

    class Meta:
        ordering = ["full_name"]

    def __str__(self) -> str:
        return str(self.full_name)

    def may(self, deed: str) -> bool:
        """Whether this person's role may do the deed."""
        return may(self.role, deed)

    def set_pin(self, pin: str) -> None:
        self.pin = make_password(pin) if pin else ""

    def check_pin(self, pin: str) -> bool:
        return bool(self.pin) and check_password(pin, self.pin)

    # Django's rights by app and model are not used: roles decide.
    def has_module_perms(self, app_label: str) -> bool:
        return False

    def has_perm(self, perm: str, obj: object = None) -> bool:
        return False


class Attempt(models.Model):
    """Failed sign-ins by name, for names that exist and names that do not alike."""

    name = models.CharField(max_length=150, primary_key=True)
    failures = models.PositiveIntegerField(default=0)
    locked_until = models.DateTimeField(null=True)

    @classmethod
    def is_locked(cls, name: str) -> bool:
        return cls.objects.filter(name=_folded(name), locked_until__gt=timezone.now()).exists()

    @classmethod
    def count_failure(cls, name: str) -> bool:
        """Count one; returns True when it locks the name."""
        cls.objects.get_or_create(name=_folded(name))
        row = cls.objects.filter(name=_folded(name))
        row.update(failures=models.F("failures") + 1)
        if not row.filter(failures__gte=settings.LOCK_AFTER_FAILURES).exists():
            return False
        until = timezone.now() + timedelta(minutes=settings.LOCK_MINUTES)
        row.update(failures=0, locked_until=until)
        return True

    @classmethod
    def forget(cls, name: str) -> None:
        cls.objects.filter(name=_folded(name)).delete()


def _folded(name: str) -> str:
    return name.casefold()[:150]
