"""The next speed of a puller for a diameter: mass is kept, so v goes as 1/d².

Sources
-------
.. [1] Conservation of mass: at constant flow ρ·π·d²/4·v is constant.
.. [2] JCGM 100:2008 (GUM), 5.1.2: relative uncertainties combine with their powers, here 2.

Half of the way at once, and five readings before one is changed, are first settings from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from recycling.calc.guards import not_negative, positive

HALF = 0.5


@dataclass(frozen=True, slots=True)
class NextSpeed:
    """The speed of a puller that gives a diameter, mm/s.

    Attributes
    ----------
    whole, u_whole : float
        The speed for the whole of the way, and its standard uncertainty.
    now : float
        What to set now: half of the way.
    within : bool
        Whether the diameter is off by less than two of its standard uncertainties: then the
        readings cannot tell that anything is to be changed.
    """

    whole: float
    u_whole: float
    now: float
    within: bool


def next_speed(
    puller_mm_s: float, diameter_mm: float, u_diameter_mm: float, target_mm: float
) -> NextSpeed:
    """Speed for a target diameter at constant flow, mm/s: v·(d/d₀)² [1]_, u by 2·u(d)/d [2]_.

    Speed, diameter and target positive, uncertainty not negative, else ValueError.

    Examples
    --------
    >>> found = next_speed(34.47, 1.80, 0.01, 1.75)
    >>> round(found.whole, 2), round(found.u_whole, 2), round(found.now, 2), found.within
    (36.47, 0.41, 35.47, False)
    """
    speed = positive("puller_mm_s", puller_mm_s)
    diameter, target = positive("diameter_mm", diameter_mm), positive("target_mm", target_mm)
    u = not_negative("u_diameter_mm", u_diameter_mm)
    whole = speed * (diameter / target) ** 2
    return NextSpeed(
        whole=whole,
        u_whole=whole * 2 * u / diameter,
        now=speed + HALF * (whole - speed),
        within=abs(diameter - target) < 2 * u,
    )
