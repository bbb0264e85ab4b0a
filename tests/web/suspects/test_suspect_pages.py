"""Pages from a bad spool to the cause: every state in words, every assumption to be changed."""

from __future__ import annotations

import csv
import hashlib
import io

import pytest

from recycling.models import Hold, KeptFinding, Machine, Verdict
from recycling.queries.suspects.ranking import suspects
from recycling.records.lots.notes import LotEventEntry
from recycling.records.setup.practice import PracticeEntry
from recycling.records.suspects.findings import FindingEntry
from recycling.services.lots.lot_notes import lot_event
from recycling.services.setup.practice import practice_set
from recycling.services.suspects import finding_keep
from tests.queries.spoilt import judge, spoilt_book

pytestmark = pytest.mark.django_db


def text(answer) -> str:
    return answer.content.decode()


def rows(answer) -> list[dict[str, str]]:
    body = b"".join(answer.streaming_content).decode()
    return list(csv.DictReader(io.StringIO(body)))


def test_the_page_names_the_suspect_with_its_grounds_and_the_next_to_ask(told, at):
    page = text(at("suspects/"))
    assert "Suspicion falls on the first line" in page
    assert "or more of 3 of 3 bad and of 0 of 3 good spools" in page
    assert told.code("C2") in page and "Source of C2" in page
    assert "None of these" in page and "never proof" in page
    assert "Whose verdict would tell the most" in page and told.code("S7") in page
    assert page.count("<svg") >= 2 and "The same numbers as a table" in page
    assert "prove" not in page.replace("proof", "").lower()


def test_the_page_says_the_bands_in_force_and_a_kept_finding_those_it_was_kept_with(told, at):
    page = text(at("suspects/"))
    rests = page.partition("What this rests on")[2].partition("</ul>")[0]
    assert "<b>10 °C</b>" in rests and "<b>5 1/min</b>" in rests and "<b>4 h</b>" in rests
    assert "default, not checked" in rests
    kept = finding_keep(told.actor, FindingEntry("cause of blobs"))
    for key, value in (("band_c", 20), ("open_limit_h", 2)):
        practice_set(told.actor, PracticeEntry(key, value, "own trials"))
    now = text(at("suspects/")).partition("What this rests on")[2].partition("</ul>")[0]
    assert "<b>20 °C</b>" in now and "<b>2 h</b>" in now and "own trials" in now
    then = text(at(f"suspects/findings/{kept.number}/")).partition("What this rests on")[2]
    assert "<b>10 °C</b>" in then and "<b>20 °C</b>" not in then


def test_every_state_is_said_in_words(told, at):
    Verdict.objects.all().delete()
    assert "No spool has a verdict that counts yet" in text(at("suspects/"))
    judge(told, "S1", good=False)
    assert "Without a good one to compare with" in text(at("suspects/"))
    judge(told, "S0", good=True)
    assert "Too little evidence" in text(at("suspects/"))
    judge(told, "S1", good=True)
    assert "there is nothing to explain" in text(at("suspects/"))
    judge(told, "S1", good=False, by="Bo")
    judge(told, "S0", good=False, by="Bo")
    page = text(at("suspects/"))
    assert "Every judged spool was called both good and bad" in page


def test_changed_assumptions_change_the_answer_at_once(told, at):
    def leading(**query):
        return at("suspects/", **query).context["found"].rows[0].posterior

    usual = leading()
    assert leading(cause="1") < usual
    assert leading(full_share="100") != usual
    assert "Beta(0.1," not in text(at("suspects/"))
    page = at("suspects/", background="50", background_weight="10")
    assert page.context["found"].priors.background_alpha == 5
    assert at("suspects/", spoil="66.67").context["found"].priors == suspects(told.actor).priors


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ({"cause": "100"}, "More than 0 and less than 100."),
        ({"full_share": "0"}, "More than 0 and at most 100."),
        ({"power": "0"}, "More than 0."),
        ({"least_judged": "0"}, "At least 1."),
        ({"background": "1"}, "half a spool"),
        ({"cause": "a lot"}, "is not a number"),
        ({"start": "2026-02-30"}, "is not a date"),
        ({"start": "2024-02-01", "end": "2024-01-01"}, "ends before it starts"),
        ({"end": "9999-12-31"}, "Check the year"),
        ({"defect": "ugly"}, "not one of the available choices"),
        ({"kinds": "moon"}, "not one of the available choices"),
    ],
)
def test_what_cannot_be_asked_is_said_at_its_field(at, query, says):
    page = text(at("suspects/", 422, **query))
    assert says in page
    assert "Nothing was searched for" in page
    for value in query.values():
        assert value in page


def test_the_question_narrows_what_is_looked_at(told, at):
    judge(told, "S7", good=False, defects=("discoloured",))
    found = at("suspects/", defect="brittle").context["found"]
    assert found.left_out.other_defects == 1
    kinds = at("suspects/", kinds="origin").context["found"].rows
    assert {one.kind for row in kinds for one in row.members} == {"origin"}
    assert at("suspects/", start="2030-01-01").context["found"].state == "no_verdicts"
    day = told.run("E0").ended_at.date().isoformat()
    assert len(at("suspects/", start=day, end=day).context["found"].spools) >= 1


def test_the_tables_come_as_files(told, at):
    ranked = rows(at("suspects/", format="csv", table="rows"))
    assert ranked[0]["rank"] == "1" and "Source of C2" in ranked[0]["candidates"]
    assert len(ranked) == suspects(told.actor).lines_in_all
    spools = rows(at("suspects/", format="csv", table="spools"))
    assert {row["standing"] for row in spools} == {"good", "bad"}


def test_from_the_bad_spool_two_clicks_put_the_cause_on_hold(told, at, press):
    spool = text(at(f"lots/{told.code('S1')}/"))
    assert f"/lots/{told.code('S1')}/contents/" in spool  # the first
    page = text(at(f"lots/{told.code('S1')}/contents/"))
    assert "Suspects in this spool" in page
    code = told.code("C2")
    assert f'name="target" value="{code}"' in page  # the second
    reason = f"suspected of spoiling {told.code('S1')}"
    assert reason in page
    answer = press("suspects/hold/", target=code, of=f"origin:{code}", reason=reason)
    hold = Hold.objects.get()
    assert (hold.with_descendants, hold.reason) == (True, reason)
    after = text(at("suspects/affected/", of=f"origin:{code}"))
    assert answer["Location"].endswith("affected/?of=origin%3A" + code)
    assert "is on hold with all that descends from it" in after
    assert "Holds, and releasing them" in after
    for name in ("S1", "S3", "S5", "S7"):
        assert told.code(name) in after
    assert told.code("S0") not in after


def test_a_second_press_is_not_a_second_hold(told, press, at):
    code = told.code("C2")
    for _ in range(2):
        press("suspects/hold/", target=code, of=f"origin:{code}")
    assert Hold.objects.count() == 1
    press("suspects/hold/", target=code, idempotency_key="press-2")
    assert "is on hold already" in text(at("suspects/affected/", of=code))
    assert Hold.objects.count() == 1


def test_what_is_in_a_spool_shows_shares_and_deviations_with_links(told, at):
    told.tell(
        "O9: heel HDPE 50g in extruder\nD9 dry FB.1 1kg -> dried flake 1kg\n"
        "E9 extrude D9.1 all, O9.1 all -> filament 900g spool"
    )
    page = text(at(f"lots/{told.code('E9.1')}/contents/"))
    assert "a heel of HDPE was in the barrel of a run of PET" in page
    assert f"/runs/{told.code('E9')}/" in page
    assert "extruded after a heel of HDPE" in page
    listed = rows(at(f"lots/{told.code('E9.1')}/contents/", format="csv", table="parts"))
    assert {row["kind"] for row in listed} >= {"origin", "lot", "run", "machine", "heel"}
    wrong = rows(at(f"lots/{told.code('E9.1')}/contents/", format="csv", table="deviations"))
    assert wrong[0]["run"]


def test_a_spool_is_not_told_to_hold_suspects_that_nobody_suspects(told, at):
    """S0 is good and without C2: what all spools share is no suspect of this one."""
    answer = at(f"lots/{told.code('S0')}/contents/")
    shown = answer.context["suspects"]
    assert all(line["row"].posterior >= 0.01 for line in shown)
    assert len(shown) < sum(row.touched_bad for row in answer.context["evidence"].rows)


def test_the_affected_say_where_and_whom_only_to_those_allowed(told, at, viewer):
    lot_event(told.actor, LotEventEntry(told.code("S3"), "moved", told.now, "=shelf 9"))
    told.tell("X1 dispatch S1 300g")
    from recycling.models import RunCheck

    RunCheck.objects.filter(run=told.run("X1"), key="receiver").update(value="Quay printers")
    page = text(at("suspects/affected/", of=told.code("C2")))
    assert "Quay printers" in page and "shelf 9" in page
    hidden = viewer.get(f"/w/{told.actor.slug}/suspects/affected/", {"of": told.code("C2")})
    assert "Quay printers" not in text(hidden) and "operators see whom" in text(hidden)
    assert "suspect-hold" not in text(hidden) and "/suspects/hold/" not in text(hidden)
    file = rows(at("suspects/affected/", of=told.code("C2"), format="csv", table="spools"))
    assert {row["went to"] for row in file} == {"Quay printers", ""}
    assert "'=shelf 9" in {row["place"] for row in file}
    secret = viewer.get(
        f"/w/{told.actor.slug}/suspects/affected/",
        {"of": told.code("C2"), "format": "csv", "table": "spools"},
    )
    assert {row["went to"] for row in rows(secret)} == {""}


def test_the_notice_names_spools_and_no_source_and_no_receiver(told, at):
    told.tell("X1 dispatch S1 300g")
    page = text(at("suspects/notice/", of=f"origin:{told.code('C2')}"))
    assert told.code("S1") in page and "not proven" in page
    main = page.split("<main")[1].split("</main>")[0]
    assert "Source of C2" not in main
    traces = "O9: flake PET 1kg\nD9 dry O9.1 10g, FB.1 9990g -> dried flake 10kg"
    told.tell(f"{traces}\nE9 extrude D9.1 1kg -> filament 900g spool")
    spool = told.code("E9.1")
    assert spool not in text(at("suspects/notice/", of=told.code("O9.1")))
    assert spool in text(at("suspects/notice/", of=told.code("O9.1"), all="1"))


def test_the_way_draws_the_suspects_share_forth_and_into_one_spool(told, at):
    page = text(at("suspects/way/", of=f"origin:{told.code('C2')}"))
    assert "It reached 4 spools" in page and 'class="drawing lineage"' in page
    one = text(at("suspects/way/", of=f"origin:{told.code('C2')}", spool=told.code("S3")))
    assert f"60 % of {told.code('S3')} is of it." in one.replace("\N{NARROW NO-BREAK SPACE}", " ")
    assert told.code("S1") not in one
    flows = rows(at("suspects/way/", of=told.code("C2"), format="csv"))
    assert {row["direction"] for row in flows} == {"in", "out"}
    machine = Machine.objects.get(name="shredder").pk
    at("suspects/way/", of=f"machine:{machine}")
    empty = text(at("suspects/way/", of=told.code("C4")))
    assert "It reached 0 spools" in empty or "went nowhere" in empty


@pytest.mark.parametrize("page", ["affected", "notice", "way"])
@pytest.mark.parametrize("of", ["", "L888-0", "moon:1", "machine:x", "setting:a:b:c"])
def test_what_is_no_candidate_is_a_page_that_is_not(at, page, of):
    at(f"suspects/{page}/", 404, of=of)


def test_a_finding_is_kept_as_asked_and_never_changes(told, at, press):
    answer = press("suspects/keep/", title="Brittle", note="n", defect="brittle", full_share="50")
    kept = KeptFinding.objects.get()
    assert answer["Location"].endswith(f"/findings/{kept.number}/")
    page = text(at(f"suspects/findings/{kept.number}/"))
    assert kept.digest in page and "Suspicion falls on" in page
    for place in range(6):
        judge(told, f"S{place}", good=True)
    again = text(at(f"suspects/findings/{kept.number}/"))
    assert "or more of 3 of 3 bad" in again
    data = at(f"suspects/findings/{kept.number}/data.json").content
    assert hashlib.sha256(data).hexdigest() == kept.digest
    assert "Brittle" in text(at("suspects/findings/"))
    press("suspects/keep/", title="Brittle", note="n", defect="brittle", full_share="50")
    assert KeptFinding.objects.count() == 1  # a second press
    KeptFinding.objects.update(body=kept.body + " ")
    assert "no longer have the SHA-256" in text(at(f"suspects/findings/{kept.number}/"))
    at("suspects/findings/99/", 404)


def test_a_finding_without_a_title_says_so_and_keeps_what_was_typed(press):
    page = text(press("suspects/keep/", 422, title=" ", note="for Ada"))
    assert "Say in a few words what it is about." in page
    assert "for Ada" in page
    assert not KeptFinding.objects.exists()


def test_a_viewer_reads_but_presses_nothing(told, viewer):
    root = f"/w/{told.actor.slug}/"
    assert viewer.get(f"{root}suspects/").status_code == 200
    assert "Keep this finding" not in text(viewer.get(f"{root}suspects/"))
    for address in ("suspects/hold/", "suspects/keep/", "verdicts/1/decide/"):
        assert viewer.post(f"{root}{address}").status_code == 403
    assert viewer.get(f"{root}suspects/hold/").status_code == 405


def test_workshops_do_not_meet(told, at, press):
    strange = spoilt_book(spools=2)
    codes = set(strange.codes.values()) - set(told.codes.values())
    for code in codes:
        at("suspects/affected/", 404, of=code)
        at("suspects/way/", 404, of=told.code("C2"), spool=code)
    spool = next((code for code in codes if code[0] in "SL"), None)
    if spool:
        at(f"lots/{spool}/contents/", 404)
        at(f"lots/{spool}/public/", 404)
    other = f"/w/{strange.actor.slug}/suspects/"
    assert at("suspects/").wsgi_request.user.is_authenticated
    from django.test import Client

    assert Client().get(other).status_code == 302


def test_no_page_brings_styles_scripts_or_third_parties(told, at, token):
    from django.test import Client

    pages = [
        at("suspects/"),
        at(f"lots/{told.code('S1')}/contents/"),
        at("suspects/affected/", of=told.code("C2")),
        at("suspects/way/", of=told.code("C2")),
        at(f"lots/{told.code('S7')}/public/"),
        Client().get(f"/v/{token}/"),
    ]
    for page in pages:
        body = text(page)
        assert " style=" not in body and "<style" not in body
        assert "<script>" not in body
        assert "http://" not in body.replace("http://www.w3.org", "").replace(
            "http://testserver", ""
        )
        assert "https://" not in body
