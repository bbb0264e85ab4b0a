"""Yield of a stage and of a chain of stages, wet and dry, and where a period's mass went.

Sources
-------
.. [1] JCGM 100:2008 (GUM), 5.1.2 (independent inputs) and 5.2.2 (correlated inputs).
.. [2] Moisture on wet basis w = water / (dry + water), on dry basis X = water / dry; so
   dry = m(1 − w) and X = w/(1 − w): definitions, as used in drying handbooks.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import mul

from recycling.calc.guards import finite, not_negative, some, whole
from shared.measured import Measured

ONE = Measured(1.0)


@dataclass(frozen=True, slots=True)
class WaterfallStep:
    """One bar of a waterfall: its label, the change in mg, and what is left after it in mg."""

    label: str
    change_mg: int
    left_mg: int


def dry_mass(wet: Measured, moisture: Measured) -> Measured:
    """Mass of polymer without its water.

    Parameters
    ----------
    wet : Measured
        Mass as weighed, mg (any mass unit; the result has the same).
    moisture : Measured
        Wet-basis moisture w, a share from 0 up to but not including 1.

    Returns
    -------
    Measured
        m(1 − w), with u² = ((1 − w)u_m)² + (m·u_w)² [1]_ [2]_.

    Raises
    ------
    ValueError
        For a negative mass, or a moisture outside 0 ≤ w < 1.

    Examples
    --------
    >>> round(dry_mass(Measured(10.3), Measured(0.03)).value, 3)
    9.991
    """
    not_negative("wet mass", wet.value)
    _wet_basis(moisture.value)
    return wet * (ONE - moisture)


def _wet_basis(moisture: float) -> float:
    if not 0 <= finite("moisture", moisture) < 1:
        raise ValueError(f"wet-basis moisture is a share from 0 to below 1, not {moisture!r}")
    return moisture


def stage_yield(product: Measured, target_in: Measured) -> Measured:
    """Share of the target polymer that went in which came out as product.

    Parameters
    ----------
    product : Measured
        Product out, mg, not negative.
    target_in : Measured
        Target polymer in, mg, positive; on the same basis (both wet or both dry).

    Returns
    -------
    Measured
        product/target as a share; above 1 where mass was gained (wash water, say) [1]_.

    Raises
    ------
    ValueError
        If nothing of the target went in, or a mass is negative.

    Examples
    --------
    >>> stage_yield(Measured(74.0, 0.3), Measured(80.0, 0.4)).value
    0.925
    """
    not_negative("product", product.value)
    if not_negative("target_in", target_in.value) == 0:
        raise ValueError("there is no yield where nothing of the target polymer went in")
    return product / target_in


def first_pass_yield(product: Measured, fresh: Measured, again: Measured) -> Measured:
    """Yield of one pass, where some of the material has been round before.

    Parameters
    ----------
    product : Measured
        Product out of the pass, mg.
    fresh, again : Measured
        Fed for the first time, and fed again (oversize, own scrap), mg, not negative.

    Returns
    -------
    Measured
        product/(fresh + again), a share: what goes round again is taken to do as well on
        this pass as fresh material. `stage_yield(product, fresh)` is the overall yield [1]_.

    Raises
    ------
    ValueError
        If nothing was fed, or a mass is negative.

    Examples
    --------
    >>> first_pass_yield(Measured(9.6), Measured(10.0), Measured(2.0)).value
    0.7999999999999999
    """
    not_negative("fresh", fresh.value)
    not_negative("again", again.value)
    return stage_yield(product, fresh + again)


def chain_yield(steps: Sequence[tuple[str, str]], masses: Mapping[str, Measured]) -> Measured:
    """Yield over several stages in a row.

    Parameters
    ----------
    steps : sequence of (product, target in)
        For each stage the names of its two masses.
    masses : mapping of str to Measured
        The masses by name, mg. A name used twice (product of one stage, feed of the next)
        is one weighing: its error cancels.

    Returns
    -------
    Measured
        The product of the stages' yields, a share, correlations kept [1]_.

    Raises
    ------
    ValueError
        For no steps, an unknown name, a negative mass, or a stage that was fed nothing.

    Examples
    --------
    >>> bottles, flake, wound = Measured(85, 0.5), Measured(80, 0.5), Measured(74, 0.5)
    >>> masses = {"bottles": bottles, "flake": flake, "wound": wound}
    >>> chain = chain_yield([("flake", "bottles"), ("wound", "flake")], masses)
    >>> direct = stage_yield(wound, bottles)
    >>> round(chain.value, 9) == round(direct.value, 9), round(chain.u, 9) == round(direct.u, 9)
    (True, True)
    """
    some("steps", steps)
    for step in steps:
        for name in step:
            if name not in masses:
                raise ValueError(f"there is no mass named {name!r}")
        stage_yield(masses[step[0]], masses[step[1]])
    return reduce(mul, (masses[out] / masses[fed] for out, fed in steps))


def loss_waterfall(
    collected_mg: int, losses_mg: Sequence[tuple[str, int]], spooled_mg: int
) -> tuple[WaterfallStep, ...]:
    """Steps of a period from what was collected down to what was spooled.

    Parameters
    ----------
    collected_mg, spooled_mg : int
        First and last bar, mg, not negative.
    losses_mg : sequence of (label, mass)
        What left on the way, in order, mg; negative where mass was gained or drawn from stock.

    Returns
    -------
    tuple of WaterfallStep
        ``collected``, a step for each loss, ``unaccounted`` where the losses given do not
        explain all, and ``spooled``, whose change is zero. Exact in mg.

    Raises
    ------
    ValueError
        For masses that are not whole milligrams, or a negative first or last bar.

    Examples
    --------
    >>> for step in loss_waterfall(100, [("sorted out", 15), ("wash and grind", 5)], 74):
    ...     print(step.label, step.change_mg, step.left_mg)
    collected 100 100
    sorted out -15 85
    wash and grind -5 80
    unaccounted -6 74
    spooled 0 74
    """
    left_mg = whole("collected_mg", collected_mg)
    whole("spooled_mg", spooled_mg)
    steps = [WaterfallStep("collected", left_mg, left_mg)]
    for label, loss_mg in losses_mg:
        left_mg -= whole(label, loss_mg, least=-(10**18))
        steps.append(WaterfallStep(label, -loss_mg, left_mg))
    if left_mg != spooled_mg:
        steps.append(WaterfallStep("unaccounted", spooled_mg - left_mg, spooled_mg))
    return (*steps, WaterfallStep("spooled", 0, spooled_mg))


def stage_yield_share(product_mg: int, target_mg: int) -> float | None:
    """Return product over target polymer fed, as booked and without uncertainty.

    Parameters
    ----------
    product_mg, target_mg : int
        Product given, and target polymer drawn, in mg.

    Returns
    -------
    float or None
        The share, which passes 1 for a gain; None where nothing was drawn.

    Raises
    ------
    ValueError
        If a mass is negative.

    Examples
    --------
    >>> stage_yield_share(740, 800)
    0.925
    """
    if product_mg < 0 or target_mg < 0:
        raise ValueError("masses of a yield cannot be negative")
    return product_mg / target_mg if target_mg else None
