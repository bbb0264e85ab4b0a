"""What lay open for too long since its drying is said when it is fed to the melt."""

from __future__ import annotations

from recycling.records.lots.mass_entries import DrawEntry
from recycling.records.runs.entries import RunEntry
from recycling.services.runs.run_open import run_draw, run_open
from tests.energy.conftest import at
from tests.factories import KG, said_of


def test_a_draw_says_how_long_a_dried_lot_lay_open_against_its_limit(shop):
    _, early = shop.dry(shop.bag(), 0, 5)
    _, late = shop.dry(shop.bag(), 40, 45)
    entry = RunEntry("extrude", at(45), machine="Barrel one", inputs=(DrawEntry(late, KG // 2),))
    run = run_open(shop.actor, entry)
    assert run.doubts == ()
    assert run_draw(shop.actor, run.code, [DrawEntry(late, KG // 4)], at(45.01)).doubts == ()
    (said,) = said_of(run_draw(shop.actor, run.code, [DrawEntry(early, KG // 2)], at(45.02)))
    assert said.startswith(f"{early} was open to the air for 40.0 h")
