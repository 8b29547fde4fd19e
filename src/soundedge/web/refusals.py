"""Which refusals does a person read in his own language? Those met at the door, in his account, with people and devices.

The bench's rooms say their sentences in English, and pages show them as they are, marked ``lang="en"``. These here are met
before or beside the work, so they are said as the rest of the page: the sentence is found by its shape, and what stands in its
blanks goes over into the translation.

>>> said_in_own_words("Lot 'P-311' is withdrawn already.")
("Lot 'P-311' is withdrawn already.", 'en')
"""

from __future__ import annotations

import re

from django.utils.translation import get_language, gettext

SENTENCES = (
    # the door (middleware.py, pages/refused.py)
    "This is for {roles}; you are signed in as {role}.",
    "This device is not enrolled, so nothing can be recorded on it. Let a manager enrol it (Devices).",
    "The form was not sent from a page of this bench, or the page is too old. Load the page again, then send.",
    "The request cannot be read. Load the page again.",
    "This is not for you.",
    "There is nothing at this address.",
    "The bench has a fault here. Nothing was kept; it is in the log.",
    # the page of a job (api/jobs.py); it names a button of the page
    "No page of this job as it stands now has been made. Somebody who works on it presses 'Make the page' on the job's page "
    "Release, at a device of the shop; then everybody can take it. The record can be read meanwhile.",
    # sign-in and password (pages/sign_in.py, services/people/accounts.py, services/people/passwords.py)
    "Too many wrong passwords for this name: it is closed for an hour and a half. A manager can open it again (People); "
    "without one: at the bench's machine, soundedge shop unlock.",
    "Too many wrong passwords: none is looked at for an hour and a half. Nothing was signed or changed. A manager can open the "
    "account again (People); without one: at the bench's machine, soundedge shop unlock.",
    "This is not your password. Type it again.",
    "This is not your password. Nothing was signed or changed; type it again.",
    "The new password is the old one. Choose another.",
    "The password holds half a character. Type it again.",
    "The password has {n} characters; it needs {least} to {most}. Four words that do not belong together are good.",
    "The password has fewer than six different letters and digits. Four words that do not belong together are good.",
    "The password is one of those that are tried first. Four words that do not belong together are good.",
    "The password is made of your own name or the bench’s. Four words that do not belong together are good.",
    "The password repeats itself. Four words that do not belong together are good.",
    "This installation has accounts already. Sign in; a manager adds people.",
    "This code is not known here, was used already, or is too old. Ask for a new one.",
    "There is a shop '{slug}' already. Choose another short name.",
    # people and devices (services/people/accounts.py, history/register.py)
    "You cannot change your own role or qualification. Ask another manager.",
    "You cannot disable yourself. Ask another manager.",
    "You cannot reset your own password; change it instead, or at the machine itself: soundedge shop reset. Ask another "
    "manager.",
    "{name} is let in no more, so there is nothing to open. A manager may let him in again (People).",
    "{name} is let in no more since {day} ({why}). A manager may let him in again; before that nothing is changed.",
    "{name} is let in already. Look at his page again.",
    "{name} is the only manager. Enrol another one first.",
    "The sign-in name '{login}' must have 3 to {most} letters, digits, . - _ or @.",
    "The sign-in name '{login}' holds letters of another width or form. Write plain ones.",
    "The sign-in name '{login}' is taken. Choose another.",
    "The sign-in name '{login}' has no letter from a to z. Choose another.",
    "The person '{id}' has an account already.",
    "There is nobody '{id}' in this shop.",
    "There is a person '{id}' already ({name}). Choose another id.",
    "'{id}' is called {name} too. One person has one id; if they are two, write their names so that they can be told apart.",
    "Certificate {certificate} is {name}'s. One person has one id.",
    "The reason has {n} characters; at least {least} are needed. Say why.",
    "The device has no name. Write what people call it: tablet at bench 2.",
    "The device's name holds a sign that cannot be printed. Type it again.",
    "The {what} holds the sign {sign}, which nobody can see. Type it again, by hand.",
    "In the {what}, '{word}' mixes letters of two alphabets, {one} and {other}, that look alike. Write each word in one "
    "alphabet.",
    "Device '{id}' was revoked already.",
)
# what stands in a blank and is a word of the bench itself; anything else is somebody's name, a code or a number
OWN_WORDS = {"roles", "role", "what"}
_BLANK = re.compile(r"\\\{(\w+)\\\}")
_SHAPES = tuple((re.compile(_BLANK.sub(r"(?P<\1>.+?)", re.escape(one)), re.DOTALL), one) for one in SENTENCES)


def said_in_own_words(sentence: str) -> tuple[str, str]:
    """A refusal for the reader of the page: the sentence, and the language it is in."""
    language = (get_language() or "en").split("-")[0]
    if language != "en":
        for shape, one in _SHAPES:
            found = shape.fullmatch(sentence)
            translated = gettext(one) if found else one
            if found and translated != one:
                blanks = {name: _word(text) if name in OWN_WORDS else text for name, text in found.groupdict().items()}
                return translated.format(**blanks), language
    return sentence, "en"


def _word(text: str) -> str:
    """``engineer, manager and technician`` → each of them translated."""
    return "".join(f" {gettext('and')} " if part == " and " else part if part == ", " else gettext(part)
                   for part in re.split(r"(, | and )", text))
