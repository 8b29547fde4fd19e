"""Who may open the bench, and how they sign in, change their password, enrol a tablet and sign out.

Every change of people or devices is an event of the shop's own chain (desk/register.py); the rows here only let them in.

* A new installation has no account. The start prints a code that opens the first page once.
* Whoever makes an account gives a one-time password that holds seven days and must be changed at the first sign-in. With
  the new password the person's own signing key is made: whoever made the account cannot sign for them.
* A device is enrolled once (devices.py).
"""

from __future__ import annotations

import unicodedata
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from ...basis.errors import Conflict, NotEnough, Refused, Unknown, Unreadable
from ...basis.sentences import Sentence, say
from ...history.legible import legible
from ..desk import register
from ..desk.actor import Actor
from .devices import Closed, enrol_device
from .one_time import code, digest_of, use_code
from .setting import data_of, root

if TYPE_CHECKING:
    from ...store.accounts.models import Account, Device, Shop

ONE_TIME_DAYS, FIRST_HOURS = 7, 24  # own estimate
LOGIN_MAX = 80  # as wide as the accounts' table has it
PASSWORD_MIN, PASSWORD_MAX = 12, 200  # OWASP ASVS 5.0.0, 6.2.1 and 6.2.9: at least 8, better 15; at least 64 must fit


def actor_of(account: Account, device: Device | None = None) -> Actor:
    """The person behind an account, as the desk knows them."""
    return Actor(account.person, account.name, account.role, device.name if device else None)


# ------------------------------------------------------------------ first start


def first_start_code(now: datetime) -> str | None:
    """A code for the first page of a new installation, or None when there is an account already. Older ones end."""
    from ...store.accounts.models import Account, OneTimeCode

    if Account.objects.exists():
        return None
    OneTimeCode.objects.filter(purpose="first").delete()
    text = code(5)
    OneTimeCode.objects.create(purpose="first", code_sha256=digest_of(text), until=now + timedelta(hours=FIRST_HOURS))
    return text


def first_start(
    typed: str, *, slug: str, shop_name: str, name: str, login: str, password: str, device_label: str, now: datetime
) -> tuple[Account, str]:
    """The first shop, with its first manager and the device they sit at.

    Returns
    -------
    (Account, str)
        The account, and the device's secret, to be kept by the device alone.

    Raises
    ------
    Refused
        The code is not the one printed at the start, was used, or is too old.
    """
    from django.db import transaction

    from ...store.accounts.models import Account

    with transaction.atomic():
        if Account.objects.exists():
            raise Refused("code", say("people.installation_open"))
        use_code("first", typed, now)
        shop = open_shop(slug, shop_name, now=now)
        password_good(password, login=login, name=name)
        account = _account(shop, {"id": _person_id(login), "name": name, "role": "manager"}, login=login, by=None, now=now)
        _own_password(account, password, now=now)
        _, token = enrol_device(shop, device_label, by=actor_of(account), now=now)
    return account, token


def open_shop(slug: str, name: str, *, now: datetime) -> Shop:
    """A new shop with its own data folder, ledger and keys."""
    from ...store.accounts.models import Shop
    from ..desk.shop_place import new_shop

    if Shop.objects.filter(slug=slug).exists():
        raise Conflict("shop", say("desk.shop_exists", slug=slug))
    new_shop(root(), slug, name, now=now)
    return Shop.objects.create(slug=slug, name=name, opened_at=now)


def new_shop_with_manager(slug: str, name: str, *, manager: str, login: str, now: datetime) -> tuple[Account, str]:
    """A shop of this installation and its first manager, for whoever sits at the machine itself.

    Returns
    -------
    (Account, str)
        The account and its one-time password.
    """
    from django.db import transaction

    with transaction.atomic():
        shop = open_shop(slug, name, now=now)
        return add_person(shop, {"id": _person_id(login), "name": manager, "role": "manager"}, login=login, by=None, now=now)


def everybody() -> list[dict[str, Any]]:
    """Every shop with its accounts."""
    from ...store.accounts.models import Shop

    return [
        {
            "slug": shop.slug,
            "name": shop.name,
            "accounts": [
                {"login": one.login, "name": one.name, "role": one.role, "active": one.is_active}
                for one in shop.accounts.order_by("login")
            ],
        }
        for shop in Shop.objects.order_by("slug")
    ]


def unlock_login(login: str) -> Sentence:
    """Open an account that wrong passwords have closed; says so in one sentence.

    Raises
    ------
    Unknown
        There is no such account.
    """
    found = _with_login(login)
    unlock(found)
    return say("people.account_open_again", name=found.name)


def reset_here(login: str, *, because: str, now: datetime) -> tuple[Account, str]:
    """A new one-time password when nobody can give one, or nobody is there to confirm it; done at the machine itself.

    The shop's ledger says, in that person's name, that it was done there and why. Their old signing key ends.

    Returns
    -------
    (Account, str)
        The account and its one-time password.

    Raises
    ------
    Unknown
        There is no such account.
    Refused
        They were disabled.
    NotEnough
        No reason.
    """
    found, why = _with_login(login), " ".join(because.split())
    if not found.is_active:
        raise Refused("login", say("people.account_disabled", name=found.name))
    if not why:
        raise NotEnough("because", say("people.reason_needed"))
    register.key_reset(data_of(found.shop), actor_of(found), found.person, f"At the machine itself: {why}", now=now)
    return found, _anew(found, now)


def _with_login(login: str) -> Account:
    from ...store.accounts.models import Account

    found = Account.objects.filter(login=login.strip().casefold()).first()
    if found is None:
        raise Unknown("login", say("people.account_unknown", login=login[:40]))
    return found


# ------------------------------------------------------------------ people


def add_person(shop: Shop, person: dict[str, Any], *, login: str, by: Actor | None, now: datetime) -> tuple[Account, str]:
    """A new person of the shop, with an account.

    Parameters
    ----------
    person : dict
        As ``person.named``: id, name, role, qualified_until, qualified_for, qualified_plate_mm_min, qualified_plate_mm_max,
        certificate.
    by : Actor or None
        The manager who adds the person; None only for the first.

    Returns
    -------
    (Account, str)
        The account and its one-time password, shown once and kept nowhere.
    """
    from django.db import transaction

    with transaction.atomic():
        account = _account(shop, person, login=login, by=by, now=now)
        return account, _one_time(account, now)


def change_person(account: Account, person: dict[str, Any], *, by: Actor, now: datetime) -> None:
    """Another role, name or qualification; counts from the next request on."""
    _not_oneself(account, by, say("people.not_your_own_role"))
    register.change_person(data_of(account.shop), by, person, now=now)
    account.name, account.role = str(person["name"]), str(person["role"])
    account.save(update_fields=["name", "role"])


def disable(account: Account, *, because: str, by: Actor, now: datetime) -> None:
    """Disable a person: from the next request on they may not sign in any more; all their sessions end."""
    _not_oneself(account, by, say("people.not_disable_yourself"))
    register.disable_person(data_of(account.shop), by, account.person, because, now=now)
    account.is_active = False
    account.save(update_fields=["is_active"])
    account.sessions.all().delete()


def enable(account: Account, *, because: str, by: Actor, now: datetime) -> str:
    """The person may sign in again, with a one-time password: their key was taken away and their old sessions stay ended.

    Returns
    -------
    str
        The one-time password; empty when a second person has to confirm it first (``confirm``).
    """
    if register.ask_reset(data_of(account.shop), by, account.person, "enabled", because, now=now):
        return ""
    register.enable_person(data_of(account.shop), by, account.person, because, now=now)
    return _anew(account, now)


def reset_password(account: Account, *, because: str, by: Actor, now: datetime) -> str:
    """A new one-time password; the old one and the person's old signing key end. Written down, by whom and why.

    Whoever has it can sign as that person until the person comes: so a second person confirms it where the shop has one.

    Returns
    -------
    str
        The one-time password; empty when a second person has to confirm it first (``confirm``).
    """
    _not_oneself(account, by, say("people.not_reset_yourself"))
    if register.ask_reset(data_of(account.shop), by, account.person, "key_reset", because, now=now):
        return ""
    register.key_reset(data_of(account.shop), by, account.person, because, now=now)
    return _anew(account, now)


def confirm(account: Account, *, by: Actor, now: datetime) -> str:
    """Confirm what another has asked for: the one-time password. Who asked, who confirmed and why are written down.

    Raises
    ------
    Conflict
        Nothing is asked for this person, or too long ago.
    Refused
        Who asked, or who is to get it; who has no password of their own, or came to the shop less than a day ago.
    """
    data = data_of(account.shop)
    asked = register.register(data).people[account.person].asked
    if asked is None:
        raise Conflict("id", say("history.nothing_asked", name=account.name))
    write = register.enable_person if asked.what == "enabled" else register.key_reset
    write(data, by, account.person, asked.because, asked_by=asked.by, now=now)
    return _anew(account, now)


def change_password(account: Account, old: str, new: str, *, now: datetime) -> None:
    """A new password of the person's own; their signing key is made, or sealed again, with it.

    Raises
    ------
    Closed
        Too many wrong old ones.
    Refused
        Not the old password, or a new one that anybody would guess.
    """
    if not _right(account, old):
        raise Refused("old", say("people.password_wrong"))
    if old == new:
        raise Refused("new", say("people.password_unchanged"))
    password_good(new, login=account.login, name=account.name)
    _own_password(account, new, old="" if account.one_time else old, now=now)


def check_password(account: Account, password: str) -> None:
    """Asked again before every signature and every change of people.

    Raises
    ------
    Closed
        Too many wrong ones from sessions of this person: a session that was taken away is of little use for guessing. They
        are counted apart from those at sign-in, where a stranger could stop a person's signatures by typing their name.
    Refused
        A wrong password.
    """
    if account.one_time or not _right(account, password):
        raise Refused("password", say("people.password_wrong_nothing_done"))


def still_in(account: Account, session: str) -> bool:
    """Whether this session of the person is still open: they have not signed out, and nobody has ended it."""
    return account.sessions.filter(session_key=session, account__is_active=True).exists()


def can_be_login(login: str) -> bool:
    """Whether an account could have this sign-in name."""
    return 3 <= len(login) <= LOGIN_MAX and all(c.isalnum() or c in ".-_@" for c in login)


def password_good(password: str, *, login: str = "", name: str = "") -> None:
    """Length and guessability; no rule about kinds of letters.

    Raises
    ------
    Refused
        With the reason.
    """
    from .passwords import guessable

    try:
        password.encode("utf-8")
    except UnicodeEncodeError:
        raise Refused("new", say("people.password_half_character")) from None
    if not PASSWORD_MIN <= len(password) <= PASSWORD_MAX:
        raise Refused("new", say("people.password_length", n=len(password), least=PASSWORD_MIN, most=PASSWORD_MAX))
    why = guessable(password, (login, name, "soundedge", "sound edge"))
    if why:
        raise Refused("new", say("people.password_guessable", why=why))


def unlock(account: Account) -> None:
    """Forget the wrong passwords that closed an account: at every sign-in and device, and where the password is asked again.

    Raises
    ------
    Refused
        The person was disabled: it is not wrong passwords that keep them out.
    """
    from axes.models import AccessAttempt
    from django.db.models import Q

    if not account.is_active:
        raise Refused("login", say("people.account_disabled", name=account.name))
    AccessAttempt.objects.filter(Q(username=account.login) | Q(username__endswith=f":{account.login}")).delete()


def forget_wrong(counted: str) -> None:
    """A right password forgets the wrong ones before it, where they were typed and nowhere else."""
    from axes.utils import reset

    reset(username=counted)


# ------------------------------------------------------------------ inside


def _account(shop: Shop, person: dict[str, Any], *, login: str, by: Actor | None, now: datetime) -> Account:
    from ...store.accounts.models import Account
    login = login.strip().casefold()
    if not can_be_login(login):
        raise Unreadable("login", say("people.login_letters", login=login[:40], most=LOGIN_MAX))
    legible("login", "sign-in name", login)
    if unicodedata.normalize("NFKC", login) != login:
        raise Unreadable("login", say("people.login_wide_letters", login=login[:40]))
    if Account.objects.filter(login=login).exists():
        raise Conflict("login", say("people.login_taken", login=login[:40]))
    if Account.objects.filter(shop=shop, person=person["id"]).exists():
        raise Conflict("id", say("people.account_exists", person=person['id']))
    himself = Actor(str(person["id"]), str(person["name"]), str(person["role"]), None)
    register.enrol_person(data_of(shop), by or himself, person, now=now)
    account = Account(
        login=login,
        shop=shop,
        person=person["id"],
        name=person["name"],
        role=person["role"],
        password_at=now,
        made_by=(by or himself).person,
    )
    account.set_unusable_password()
    account.save()
    return account


def _right(account: Account, password: str) -> bool:
    """Whether it is the person's password, asked in their own session. After five wrong ones, none is looked at for a while."""
    from axes.handlers.proxy import AxesProxyHandler
    from django.http import HttpRequest

    asked = HttpRequest()
    asked.META["REMOTE_ADDR"] = "127.0.0.1"
    asked.method, asked.path = "POST", "/password-again"
    name = dict.fromkeys(("username", "login"), _again(account))
    if not AxesProxyHandler.is_allowed(asked, name):
        raise Closed("password", say("people.passwords_locked"))
    if not account.check_password(password[: PASSWORD_MAX + 1]):
        AxesProxyHandler.user_login_failed(type(account), name, asked)
        return False
    forget_wrong(name["username"])
    return True


def _again(account: Account) -> str:
    """What wrong passwords in a person's own sessions are counted under; nobody can type it as a sign-in name."""
    return f"again:{account.login}"


def _anew(account: Account, now: datetime) -> str:
    account.is_active = True
    account.sessions.all().delete()
    unlock(account)
    return _one_time(account, now)


def _one_time(account: Account, now: datetime) -> str:
    text = code(4)
    account.set_password(text)
    account.one_time, account.one_time_until, account.password_at = True, now + timedelta(days=ONE_TIME_DAYS), now
    account.save()
    return text


def _own_password(account: Account, password: str, *, old: str = "", now: datetime) -> None:
    register.seal_key(data_of(account.shop), account.person, password, old=old, now=now)
    account.set_password(password)
    account.one_time, account.one_time_until, account.password_at = False, None, now
    account.save()


def _not_oneself(account: Account, by: Actor, why: Sentence) -> None:
    if account.person == by.person:
        raise Refused("person", why)


def _person_id(login: str) -> str:
    name = "".join(c for c in login.strip().casefold().split("@")[0] if c.isascii() and (c.isalnum() or c in "-_"))
    if not name:
        raise Unreadable("login", say("people.login_no_plain_letter", login=login[:40]))
    return name[:40]


def person_known(shop: Shop, person: str) -> Account:
    """The account of a person of this shop.

    Raises
    ------
    Unknown
        There is none in this shop; whether another shop has one is not said.
    """
    from ...store.accounts.models import Account

    found = Account.objects.filter(shop=shop, person=person).first()
    if found is None:
        raise Unknown("person", say("people.person_unknown", person=person[:40]))
    return found
