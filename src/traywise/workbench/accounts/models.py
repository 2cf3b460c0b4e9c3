"""A person of the staff, failed sign-ins, and the second factor."""

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
    def take(cls, name: str) -> bool:
        """Take one of the tries before looking at the word; False when the name is locked.

        One statement counts and locks, so that tries sent side by side get no try more.
        Who was right forgets the count, or gives the try back.
        """
        cls.objects.get_or_create(name=_folded(name))
        now = timezone.now()
        last = models.Q(locked_until=None, failures__gte=settings.LOCK_AFTER_FAILURES - 1)
        free = cls.objects.filter(name=_folded(name)).exclude(locked_until__gt=now)
        taken = free.update(
            # A lock that is over starts the count anew.
            failures=models.Case(
                models.When(locked_until__isnull=False, then=models.Value(1)),
                default=models.F("failures") + 1,
            ),
            locked_until=models.Case(
                models.When(last, then=now + timedelta(minutes=settings.LOCK_MINUTES)),
                default=None,
            ),
        )
        return bool(taken)

    @classmethod
    def give_back(cls, name: str) -> None:
        """The try that was taken was right, but the person is not signed in yet."""
        cls.objects.filter(name=_folded(name), failures__gt=0).update(
            failures=models.F("failures") - 1, locked_until=None
        )

    @classmethod
    def forget(cls, name: str) -> None:
        cls.objects.filter(name=_folded(name)).delete()


def _folded(name: str) -> str:
    return name.casefold()[:150]


class SecondFactor(models.Model):
    """A person's code by time. It is asked for from ``confirmed_at``; until then it is set up."""

    staff = models.OneToOneField(
        Staff, on_delete=models.CASCADE, primary_key=True, related_name="second_factor"
    )
    secret = models.CharField(max_length=64)
    confirmed_at = models.DateTimeField(null=True)
    last_step = models.BigIntegerField(default=0)  # a code counts once


class RecoveryCode(models.Model):
    """For the day the telephone is lost: one use each, kept as a digest."""

    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["staff", "digest"], name="one_recovery_code")
        ]
