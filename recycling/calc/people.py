"""One-time codes: six digits that whoever holds the same secret can compute, by a count or a clock.

Sources
-------
.. [1] RFC 4226, HOTP: An HMAC-Based One-Time Password Algorithm, 2005, 5.3: truncation; 4, R6: a
   secret of 160 bits is recommended.
.. [2] RFC 6238, TOTP: Time-Based One-Time Password Algorithm, 2011, 4: the count is the number of
   steps of 30 s since 1970; 5.2: a code is taken once, and one step either way allows for clocks
   that differ.
"""

import hmac

STEP_S = 30
"""Length of a time step, s."""
DIGITS = 6
AROUND = 1
"""So many steps before and after that of now are taken too."""


def counted_code(secret: bytes, count: int, digits: int = DIGITS) -> str:
    """Code of a count, 0 ≤ count < 2⁶⁴: 31 bits of HMAC-SHA-1(secret, count), modulo 10^digits.

    The low four bits of the last byte say at which byte the 31 bits begin.

    Examples
    --------
    >>> counted_code(b"12345678901234567890", 0)
    '755224'
    """
    made = hmac.digest(secret, count.to_bytes(8, "big"), "sha1")
    start = made[-1] & 15
    number = int.from_bytes(made[start : start + 4], "big") & 0x7FFF_FFFF
    return f"{number % 10**digits:0{digits}d}"


def step_of(moment_s: float) -> int:
    """Time step of a moment, s since 1970: ⌊t/30⌋.

    Examples
    --------
    >>> step_of(59), step_of(60)
    (1, 2)
    """
    return int(moment_s // STEP_S)


def steps_of(secret: bytes, code: str, moment_s: float) -> tuple[int, ...]:
    """Time steps around a moment, s since 1970, that a code of six digits is of, earliest first.

    Each is computed and compared in a time that does not depend on where the digits differ.

    Examples
    --------
    >>> steps_of(b"12345678901234567890", "287082", 59)
    (1,)
    >>> steps_of(b"12345678901234567890", "287082", 120)
    ()
    """
    now, given = step_of(moment_s), code.encode()
    steps = range(max(now - AROUND, 0), now + AROUND + 1)
    right = {
        step: hmac.compare_digest(counted_code(secret, step).encode(), given) for step in steps
    }
    return tuple(step for step in steps if right[step])
