"""One-time codes against the test values of their RFCs."""

from __future__ import annotations

import pytest

from recycling.calc.people import counted_code, step_of, steps_of

SECRET = b"12345678901234567890"


@pytest.mark.parametrize(
    ("count", "code"),
    enumerate(
        "755224 287082 359152 969429 338314 254676 287922 162583 399871 520489".split()  # noqa: SIM905
    ),
)
def test_counted_codes_are_those_of_rfc_4226(count, code):
    """RFC 4226, appendix D, table 2: the secret "12345678901234567890", counts 0 to 9."""
    assert counted_code(SECRET, count) == code


@pytest.mark.parametrize(
    ("moment_s", "step", "code"),
    [
        (59, 0x1, "94287082"),
        (1111111109, 0x23523EC, "07081804"),
        (1111111111, 0x23523ED, "14050471"),
        (1234567890, 0x273EF07, "89005924"),
        (2000000000, 0x3F940AA, "69279037"),
        (20000000000, 0x27BC86AA, "65353130"),
    ],
)
def test_codes_of_a_moment_are_those_of_rfc_6238(moment_s, step, code):
    """RFC 6238, appendix B, the rows of SHA-1: eight digits, T in hexadecimal."""
    assert step_of(moment_s) == step
    assert counted_code(SECRET, step, digits=8) == code
    assert steps_of(SECRET, code[2:], moment_s) == (step,)


def test_a_code_is_taken_one_step_before_and_after_its_own():
    """RFC 6238, 5.2: at most one step of delay is recommended; a clock may be ahead as well."""
    code, start = counted_code(SECRET, 100), 100 * 30
    taken = [at for at in range(start - 90, start + 120, 10) if steps_of(SECRET, code, at)]
    assert (taken[0], taken[-1]) == (start - 30, start + 50)
    assert steps_of(SECRET, code, start) == (100,)


@pytest.mark.parametrize("code", ["", "1", "9428708", "ÿ" * 6, "75522４"])
def test_what_is_no_code_is_of_no_step(code):
    assert steps_of(SECRET, code, 59) == ()
