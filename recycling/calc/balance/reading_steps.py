"""How sure a scale's readings are, as steps over the load, to be shown while somebody types.

Sources
-------
.. [1] OIML R 76-1:2006, table 6 and 3.5.2, by way of ``recycling.calc.balance.weighing``.
"""

import math

from recycling.calc.balance.weighing import LIMIT_BANDS_E, reading


def reading_steps(interval_mg: int, accuracy_class: str) -> tuple[tuple[float, float], ...]:
    """Give the standard uncertainty of a reading in service for each stretch of the load.

    Parameters
    ----------
    interval_mg : int
        Verification scale interval e, mg.
    accuracy_class : {"I", "II", "III", "IIII"}
        Accuracy class of the scale.

    Returns
    -------
    tuple of (float, float)
        Load up to which a step holds, mg (infinite for the last), and u of `reading` there, mg
        [1]_.

    Raises
    ------
    ValueError
        For an unknown class or an interval that is not positive.

    Examples
    --------
    >>> [(load_mg, round(u_mg, 1)) for load_mg, u_mg in reading_steps(1_000, "III")]
    [(500000, 645.5), (2000000, 1190.2), (inf, 1755.9)]
    """
    reading(0, interval_mg, accuracy_class)
    loads_mg = [band * interval_mg for band in LIMIT_BANDS_E[accuracy_class]]
    inside_mg = [*loads_mg, loads_mg[-1] + interval_mg]
    sure_mg = [reading(load_mg, interval_mg, accuracy_class).u for load_mg in inside_mg]
    return tuple(zip([*loads_mg, math.inf], sure_mg, strict=True))
