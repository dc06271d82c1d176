"""One-time codes: what an app on somebody's phone shows, asked for after the password (RFC 6238), and recovery codes.

Switched on by a person for their own account. What is tried is counted by django-otp: after each wrong code twice as
long passes until another is looked at. Recovery codes are kept as keyed hashes only.
"""

import math
import re
import secrets
from base64 import b32encode
from datetime import datetime
from urllib.parse import quote, urlencode

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_noop
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from jobs.models import Account, Role, Studio

from .base import Actor, Refused, record
from .groups import check_reach
from .sessions import drop_sessions
from .throttle import count, forgive

RECOVERY_CODES = 10
# Letters of base 32: ten of them are 50 bits of chance.
RECOVERY_LENGTH = 10
LETTERS = "abcdefghijklmnopqrstuvwxyz234567"
WRONG = gettext_noop("That is not the code that the app shows now, nor a recovery code that is left.")
TRIES, QUARTER_HOUR = 8, 900


def has_code(account: Account) -> bool:
    """Whether a code is asked of the account after its password."""
    return bool(TOTPDevice.objects.filter(user=account, confirmed=True).exists())


def waiting_app(account: Account) -> TOTPDevice | None:
    """The app that is to be switched on, once it has shown a right code."""
    found: TOTPDevice | None = TOTPDevice.objects.filter(user=account, confirmed=False).first()
    return found


def recovery_left(account: Account) -> int:
    return int(StaticToken.objects.filter(device__user=account).count())


def address_of(app: TOTPDevice, studio: Studio) -> str:
    """What the app reads as a QR code: the secret, and whose it is."""
    issuer = studio.name.replace(":", " ")
    label = quote(f"{issuer}:{app.user.get_username()}")
    values = {"secret": key_of(app), "issuer": issuer, "digits": app.digits, "period": app.step}
    return f"otpauth://totp/{label}?{urlencode(values, quote_via=quote)}"


def key_of(app: TOTPDevice) -> str:
    """The secret to be typed where nothing can be scanned."""
    return b32encode(app.bin_key).decode().rstrip("=")


def check_password(account: Account, password: str, *, at: datetime) -> None:
    """Refuse what is not the account's own password, and after eight wrong ones any, for up to a quarter of an hour."""
    spans = {f"password:{account.pk}": QUARTER_HOUR}
    if max(count(spans, at=at).values()) > TRIES:
        raise Refused("The password was wrong too often. Wait a quarter of an hour.", "password")
    if not account.check_password(password):
        raise Refused("This is not your present password.", "password")
    forgive(spans, at=at)


@transaction.atomic
def begin(account: Account) -> TOTPDevice:
    """A secret for an app; nothing is asked for until it has shown a right code. Another one takes its place."""
    account = Account.objects.select_for_update().get(pk=account.pk)
    if account.role == Role.BENCH:
        raise Refused("Tablets are paired instead: nobody has a phone in their hand at a bench.")
    if has_code(account):
        raise Refused("A code is asked for already.")
    TOTPDevice.objects.filter(user=account).delete()
    app: TOTPDevice = TOTPDevice.objects.create(user=account, name="app", confirmed=False)
    return app


def switch_on(account: Account, code: str, *, by: Actor, at: datetime, keep: str = "") -> list[str]:
    """A code is asked for from now on; gives the recovery codes, which are shown this once. Refuses a wrong code.

    Whoever is signed in without one is out, but for the session whose key is `keep`.
    """
    if not _passes(TOTPDevice, account, _plain(code), confirmed=False):
        raise Refused("That is not the code that the app shows now.", "code")
    with transaction.atomic():
        TOTPDevice.objects.filter(user=account, confirmed=False).update(confirmed=True)
        drop_sessions(account, keep)
        record("switched on the code of", account, by=by, at=at)
        return _new_recovery(account)


@transaction.atomic
def new_recovery(account: Account, *, by: Actor, at: datetime) -> list[str]:
    """Other recovery codes; those of before are good for nothing."""
    if not has_code(account):
        raise Refused("No code is asked for.")
    record("made recovery codes of", account, by=by, at=at)
    return _new_recovery(account)


@transaction.atomic
def switch_off(account: Account, *, by: Actor, at: datetime) -> None:
    """No code is asked for any more: by its person, or for one who has lost their phone by who keeps accounts."""
    if by.account != account:
        check_reach(account, by=by)
    if not has_code(account):
        raise Refused("No code is asked for.")
    TOTPDevice.objects.filter(user=account).delete()
    StaticDevice.objects.filter(user=account).delete()
    record("switched off the code of", account, by=by, at=at)


def check_code(account: Account, code: str, *, at: datetime) -> None:
    """Refuse a code that is neither the app's nor a recovery code; each is good once."""
    typed = _plain(code)
    by = Actor(account=account)
    if re.fullmatch("[0-9]{6}", typed):
        good = _passes(TOTPDevice, account, typed)
    else:
        device = StaticDevice.objects.filter(user=account).first()
        good = device is not None and _passes(StaticDevice, account, _kept(device, typed))
        if good:
            record("used a recovery code of", account, by=by, at=at)
    if not good:
        record("mistyped the code of", account, by=by, at=at)
        raise Refused(WRONG, "code")


def _passes(kind: type, account: Account, token: str, confirmed: bool = True) -> bool:
    """Whether the token is right. In a transaction of its own, so that a wrong one stays counted."""
    with transaction.atomic():
        device = kind.objects.select_for_update().filter(user=account, confirmed=confirmed).first()  # type: ignore[attr-defined]
        if device is None:
            return False
        allowed, why = device.verify_is_allowed()
        if allowed:
            return bool(device.verify_token(token))
    # By the clock by which django-otp counts.
    seconds = math.ceil((why["locked_until"] - timezone.now()).total_seconds())
    raise Refused(
        "Too many wrong codes. Wait %(seconds)s seconds, then try once more.", "code", seconds=max(1, seconds)
    )


def _new_recovery(account: Account) -> list[str]:
    StaticDevice.objects.filter(user=account).delete()
    device = StaticDevice.objects.create(user=account, name="recovery")
    codes = ["".join(secrets.choice(LETTERS) for _ in range(RECOVERY_LENGTH)) for _ in range(RECOVERY_CODES)]
    StaticToken.objects.bulk_create(StaticToken(device=device, token=_kept(device, code)) for code in codes)
    return [f"{code[:5]}-{code[5:]}" for code in codes]


def _kept(device: StaticDevice, code: str) -> str:
    """What is kept of a recovery code: 16 letters of a hash that needs the key of the installation."""
    made = salted_hmac("jobs.actions.codes", f"{device.pk}:{code}", algorithm="sha256").digest()
    return b32encode(made).decode()[:16].lower()


def _plain(code: str) -> str:
    return re.sub(r"[\s-]", "", code).lower()
