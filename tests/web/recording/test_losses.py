"""A loss on its page: a mass, or gross and tare with the scale, kept as they were read."""

from __future__ import annotations

from recycling.models import Scale, Weighing
from tests.factories import KG, G, ScaleFactory
from tests.web.recording.conftest import problems_of
from tests.web.recording.test_journeys import first_code


def opened(lead, bag) -> str:
    lot = bag("flake", 3 * KG)
    page = lead.recorded(
        "record/dry/open/",
        started_at="2024-03-01T09:00",
        inputs__0__code=lot,
        inputs__0__mass="2000",
    )
    return first_code(page, "R")


def test_gross_and_tare_of_a_loss_are_kept_as_read(lead, bag):
    scale = Scale.objects.filter(workshop_id=lead.actor.workshop_id).first()
    scale = scale.name if scale else ScaleFactory(actor=lead.actor, name="bench").name
    code = opened(lead, bag)
    lead.recorded(
        f"runs/{code}/loss/",
        at="2024-03-01T12:00",
        losses__water__read="1,3 kg",
        losses__water__empty="1.2 kg",
        losses__water__scale=scale,
        losses__water__how="caught in a tray",
    )
    kept = Weighing.objects.get(posting__account__name="water")
    assert (kept.posting.mass_mg, kept.gross_mg, kept.tare_mg) == (100 * G, 1_300 * G, 1_200 * G)
    assert (kept.scale.name, kept.raw, kept.note) == (scale, "1,3 kg", "caught in a tray")


def test_a_tare_above_the_gross_mass_is_said_at_its_field(lead, bag):
    code = opened(lead, bag)
    path = f"runs/{code}/loss/"
    typed = {"losses__water__read": "1 kg", "losses__water__empty": "2 kg"}
    answer = lead.record(path, at="2024-03-01T12:00", **typed)
    assert "The tare is not below the gross mass." in problems_of(answer)
    assert not Weighing.objects.filter(posting__account__name="water").exists()
