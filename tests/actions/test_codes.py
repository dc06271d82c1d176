"""One-time codes, held to the published test vectors, and good once each."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from django_otp.oath import TOTP
from django_otp.plugins.otp_static.models import StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from jobs.actions import Actor, Refused, codes
from jobs.models import Account, Event, Studio
from tests import cast

NOW = cast.at(2)
CLOCK = "django_otp.plugins.otp_totp.models.time.time"


@pytest.fixture
def by(office: Account) -> Actor:
    return Actor(account=office)


def shown(app: TOTPDevice, at: float, digits: int = 6) -> str:
    """What the app shows at a time of the clock, in seconds."""
    totp = TOTP(app.bin_key, app.step, app.t0, digits)
    totp.time = at
    return f"{totp.token():0{digits}}"


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    def be(seconds: float) -> None:
        monkeypatch.setattr(CLOCK, lambda: seconds)

    return be


@pytest.fixture
def on(office: Account, by: Actor, clock: Callable[[float], None]) -> tuple[TOTPDevice, list[str]]:
    """The office's code, switched on at second 1,000,000,000 of the clock, with its recovery codes."""
    app = codes.begin(office)
    clock(1e9)
    recovery = codes.switch_on(office, shown(app, 1e9), by=by, at=NOW)
    return app, recovery


# RFC 6238, appendix B: the secret is the ASCII text 12345678901234567890, and the codes of SHA-1 have 8 digits.
@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, "94287082"),
        (1111111109, "07081804"),
        (1111111111, "14050471"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
        (20000000000, "65353130"),
    ],
)
def test_the_published_vectors(
    office: Account, clock: Callable[[float], None], seconds: int, code: str
) -> None:
    app = TOTPDevice.objects.create(user=office, key=b"12345678901234567890".hex(), digits=8)
    assert shown(app, seconds, digits=8) == code
    clock(seconds)
    assert app.verify_token(code)
    assert not app.verify_token(code)


def test_nothing_is_asked_for_until_the_app_has_shown_a_right_code(office: Account, by: Actor) -> None:
    app = codes.begin(office)
    assert not codes.has_code(office)
    with pytest.raises(Refused, match="not the code that the app shows now"):
        codes.switch_on(
            office, "000000" if shown(app, timezone.now().timestamp()) != "000000" else "1", by=by, at=NOW
        )
    assert not codes.has_code(office)
    assert codes.begin(office).key != app.key


def test_a_code_is_good_once_and_not_long(
    office: Account, on: tuple[TOTPDevice, list[str]], clock: Callable[[float], None]
) -> None:
    app, _ = on
    clock(1e9 + 60)
    code = shown(app, 1e9 + 60)
    codes.check_code(office, f"{code[:3]} {code[3:]}", at=NOW)
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, code, at=NOW)
    app.refresh_from_db()
    app.throttle_reset()
    clock(1e9 + 600)
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, shown(app, 1e9 + 120), at=NOW)
    assert Event.objects.filter(verb="mistyped the code of").count() == 2


def test_wrong_codes_take_longer_and_longer(office: Account, on: tuple[TOTPDevice, list[str]], clock) -> None:
    app, recovery = on
    wrong = "000000" if shown(app, 1e9 + 90) != "000000" else "000001"
    clock(1e9 + 90)
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, wrong, at=NOW)
    # Even the right one waits; so do recovery codes after a wrong one of them.
    with pytest.raises(Refused, match="Too many wrong codes"):
        codes.check_code(office, shown(app, 1e9 + 90), at=NOW)
    TOTPDevice.objects.update(throttling_failure_timestamp=timezone.now() - timedelta(seconds=3))
    codes.check_code(office, shown(app, 1e9 + 90), at=NOW)
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, "aaaaa-aaaaa", at=NOW)
    with pytest.raises(Refused, match="Too many wrong codes"):
        codes.check_code(office, recovery[0], at=NOW)


def test_a_recovery_code_is_good_once_and_nowhere_readable(
    office: Account, by: Actor, on: tuple[TOTPDevice, list[str]]
) -> None:
    _, recovery = on
    assert (len(set(recovery)), codes.recovery_left(office)) == (10, 10)
    kept = " ".join(StaticToken.objects.values_list("token", flat=True))
    assert not any(code.replace("-", "") in kept for code in recovery)
    codes.check_code(office, recovery[3].upper(), at=NOW)
    assert codes.recovery_left(office) == 9
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, recovery[3], at=NOW)
    others = codes.new_recovery(office, by=by, at=NOW)
    with pytest.raises(Refused, match="not the code"):
        codes.check_code(office, recovery[4], at=NOW)
    assert not set(others) & set(recovery)
    assert Event.objects.filter(verb="used a recovery code of").count() == 1


def test_it_is_switched_off_by_its_person_or_who_keeps_accounts(
    office: Account, lead: Account, by: Actor, on: tuple[TOTPDevice, list[str]]
) -> None:
    with pytest.raises(Refused, match="asked for already"):
        codes.begin(office)
    codes.switch_off(office, by=Actor(account=lead), at=NOW)
    assert (codes.has_code(office), codes.recovery_left(office)) == (False, 0)
    for act in (codes.switch_off, codes.new_recovery):
        with pytest.raises(Refused, match="No code is asked for"):
            act(office, by=by, at=NOW)
    app = codes.begin(lead)
    TOTPDevice.objects.filter(pk=app.pk).update(confirmed=True)
    with pytest.raises(Refused, match="may more than yours"):
        codes.switch_off(lead, by=by, at=NOW)


def test_a_tablet_has_no_code(tablet: Account) -> None:
    with pytest.raises(Refused, match="Tablets are paired instead"):
        codes.begin(tablet)


def test_wrong_passwords_are_counted_where_one_is_asked_for_again(office: Account) -> None:
    for _ in range(codes.TRIES):
        with pytest.raises(Refused, match="not your present password"):
            codes.check_password(office, "wrong", at=NOW)
    with pytest.raises(Refused, match="wrong too often"):
        codes.check_password(office, "long enough 1", at=NOW)
    codes.check_password(office, "long enough 1", at=NOW + timedelta(minutes=16))


def test_the_app_reads_whose_the_code_is(office: Account) -> None:
    studio = Studio.current()
    studio.name = "Lakeside: Glass & Co"
    address = codes.address_of(codes.begin(office), studio)
    assert address.startswith("otpauth://totp/Lakeside%20%20Glass%20%26%20Co%3Aoffice?secret=")
    assert "&issuer=Lakeside%20%20Glass%20%26%20Co&digits=6&period=30" in address
