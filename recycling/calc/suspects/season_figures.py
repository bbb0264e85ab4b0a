"""How often searches were right, and how true the chances were that they stated."""

from collections.abc import Callable, Iterator, Sequence
from itertools import count, islice

from recycling.calc.suspects.seasons import PLANTED, Found, Season, season

BANDS = ((0.0, 0.2), (0.2, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.0))


def seasons_of(planted: str, number: int, seed: int) -> list[Season]:
    """Make so many seasons, from a seed on, without those in which nothing can be planted.

    Raises ValueError for a kind that is none.

    Examples
    --------
    >>> len(seasons_of("open", 2, seed=1))
    2
    """

    def able() -> Iterator[Season]:
        for one in count(seed):
            try:
                yield season(one, planted)
            except ValueError:
                if planted not in PLANTED:
                    raise

    return list(islice(able(), number))


def share_of(found: Sequence[Found], holds: Callable[[Found], bool]) -> float:
    """Give the share of searches of which something holds, 0 to 1; 0 for none.

    Examples
    --------
    >>> share_of([Found(1, 1, (), False), Found(2, 1, (), False)], lambda one: one.rank == 1)
    0.5
    """
    return sum(map(holds, found)) / len(found) if found else 0.0


def bands_of(found: Sequence[Found]) -> list[tuple[float, float, float, float, int]]:
    """Compare the stated chances of lines with how many had the cause, band by band.

    Parameters
    ----------
    found : sequence of Found
        Searches of seasons with a cause and without.

    Returns
    -------
    list of (float, float, float, float, int)
        Ends of the band, mean chance stated, share true, and lines in it; bands without are left
        out.

    Examples
    --------
    >>> bands_of([Found(1, 1, ((0.7, True), (0.1, False)), False)])
    [(0.0, 0.2, 0.1, 0.0, 1), (0.6, 0.8, 0.7, 1.0, 1)]
    """
    lines = [line for one in found for line in one.stated]
    told = []
    for low, high in BANDS:
        inside = [(p, true) for p, true in lines if low <= p < high or p == high == 1.0]
        if inside:
            mean = sum(p for p, _ in inside) / len(inside)
            share = sum(true for _, true in inside) / len(inside)
            told.append((low, high, mean, share, len(inside)))
    return told
