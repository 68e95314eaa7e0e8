"""Codes that change every half minute, as a second thing to sign in with (RFC 6238)."""

from __future__ import annotations

from datetime import datetime

ISSUER = "Halfstep"
STEP_S = 30
_STEPS = (-1, 0, 1)
"""A clock may be half a minute off."""


def new_secret() -> str:
    """A secret to share with a program that shows codes, in base 32."""
    import pyotp

    return pyotp.random_base32()


def secret_address(secret: str, name: str) -> str:
    """The secret as an address that such a program reads as a square."""
    import pyotp

    return pyotp.TOTP(secret).provisioning_uri(name=name, issuer_name=ISSUER)


def step_of_code(secret: str, code: str, at: datetime, *, after: int) -> int | None:
    """The step of time whose code it is; None for one that is wrong, old, or was used.

    Parameters
    ----------
    secret : str
    code : str
        As typed; spaces do not count.
    at : datetime
    after : int
        The step whose code was used last.
    """
    import pyotp

    typed = "".join(code.split())
    if not (typed.isascii() and typed.isdecimal()):
        return None
    codes, now = pyotp.TOTP(secret, interval=STEP_S), int(at.timestamp()) // STEP_S
    steps = (now + step for step in _STEPS if now + step > after)
    return next((step for step in steps if codes.generate_otp(step) == typed), None)
