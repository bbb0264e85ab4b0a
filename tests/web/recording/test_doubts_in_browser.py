"""While it is typed: the page asks about a likely slip by the rule that the server has."""

from __future__ import annotations

from random import Random

import pytest
from django.test import Client

from recycling.calc.balance.usual_figures import (
    kept_logs,
    kernel_width,
    likely_slips,
    rule,
    swapped,
)
from recycling.models import User
from tests.web.recording.conftest import form_of, hand_of, set_up

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def lead(db):
    return hand_of(set_up())


@pytest.fixture
def page(chromium, live_server, lead):
    context = chromium.new_context(base_url=f"{live_server.url}/w/quay/")
    signed_in = Client()
    signed_in.force_login(User.objects.get(memberships__pk=lead.actor.member_id))
    cookie = signed_in.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    yield context.new_page()
    context.close()


def recorded(lead, mass):
    form = lead.fill("collections/new/", source="North school", bags__0__gross=mass)
    review = lead.send("collections/new/", form | {"step": ["review"]})
    lead.send("collections/new/", form_of(review), step="record")


@pytest.mark.django_db(transaction=True)
def test_a_slip_is_asked_under_its_field_and_put_right_by_one_tap(page, lead):
    for mass in ("1.1 kg", "1.2 kg", "1.3 kg", "1.15 kg", "1.24 kg", "1.4 kg", "1.32 kg", "1.2 kg"):
        recorded(lead, mass)
    page.goto("collections/new/")
    gross = page.locator("#id_bags-0-gross")
    gross.fill("12.4 kg")
    gross.blur()
    asked = page.locator("[data-doubt]")
    assert "are usual; 12.400 kg is far from that" in asked.inner_text().replace("\xa0", " ")
    asked.get_by_role("button", name="1.24 kg", exact=True).click()
    assert gross.input_value() == "1.24 kg"
    assert page.locator("[data-doubt]").count() == 0
    gross.fill("12.4 kg")
    gross.blur()
    page.get_by_role("button", name="12.4 kg is right").click()
    assert page.locator("input[name=right]").input_value() == "bags-0-gross=12.4 kg"
    gross.blur()
    assert page.locator("[data-doubt]").count() == 0


@pytest.mark.django_db(transaction=True)
def test_the_page_and_the_server_have_one_rule(page, lead):
    page.goto("collections/new/")
    rng = Random(12)
    asked = 0
    for _ in range(60):
        logs = kept_logs([rng.lognormvariate(0, 0.4) * 1e6 for _ in range(rng.randint(3, 30))])
        value = round(rng.lognormvariate(0, 0.4) * 1e6 * rng.choice((1, 1, 10, 0.1, 1000)))
        digits = str(value).rstrip("0")
        zeros = 10 ** (len(str(value)) - len(digits))
        swaps = [float(int(text) * zeros) for text in swapped(digits)]
        here = [round(one.value, 3) for one in likely_slips(value, logs, swaps)]
        past = {"logs": list(logs), "width": kernel_width(logs)}
        there = page.evaluate(
            "([rule, value, past]) => likelySlips(rule, value, past, 1, 0)", [rule(), value, past]
        )
        assert [round(one, 3) for one in there] == here
        asked += bool(here)
    assert 10 < asked < 60
