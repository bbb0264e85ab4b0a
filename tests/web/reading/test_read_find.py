"""Any code, typed or scanned, leads to its page; a mistyped one gets a suggestion."""

from __future__ import annotations

import pytest

from recycling.models import Lot
from recycling.queries.lots.codes import meant
from recycling.records.lots.origin_entries import BagEntry
from recycling.web.forms.fields import CodeField
from shared.codes import ALPHABET, code_for, label_path, read_code
from shared.slips import looks_like_code, one_slip_away
from tests.factories import START, OriginFactory, WorkshopFactory
from tests.web.reading.reading_pages import text_of


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("shred flake", "lots"),
        ("extrude first filament", "lots"),
        ("quay", "collections"),
        ("dry", "runs"),
    ],
)
def test_a_code_leads_to_its_page(book, page, name, place):
    code = book.codes[name]
    for typed in (code, code.lower(), f" {code.replace('-', '')} ", code.replace("-", " ")):
        answer = page("find/", status=302, code=typed)
        assert answer["Location"] == f"/w/quay/{place}/{code}/"


def test_a_scanned_address_leads_to_its_page(book, page):
    code = book.codes["shred flake"]
    answer = page("find/", status=302, code=f"HTTPS://BOOK.EXAMPLE/L/{code}")
    assert answer["Location"] == f"/w/quay/lots/{code}/"


def slipped(code: str) -> str:
    """Misread the last figure of a code's number."""
    digits, check = code[1:].split("-")
    return f"{code[0]}{digits[:-1]}{(int(digits[-1]) + 1) % 10}-{check}"


def test_a_mistyped_code_says_so_and_suggests_what_was_meant(book, page):
    code = book.codes["shred flake"]
    answer = page("find/", status=404, code=slipped(code))
    assert f"The check character of {slipped(code)} is wrong" in text_of(answer)
    assert f'href="/w/quay/lots/{code}/"' in answer.content.decode()
    same = page(f"lots/{slipped(code)}/", status=404)
    assert f'href="/w/quay/lots/{code}/"' in same.content.decode()


def test_only_what_the_workshop_has_is_suggested(book, page, actor):
    """Neither codes that do not exist nor those of another workshop are given away."""
    answer = page("find/", status=404, code="L354-L")
    assert "L345-L" in one_slip_away("L354-L")
    assert "L345-L" not in answer.content.decode()
    assert "Nothing in this workshop is one slip away" in text_of(answer)
    other = WorkshopFactory(slug="elsewhere", name="Elsewhere")
    mine = set(Lot.objects.filter(workshop_id=actor.workshop_id).values_list("code", flat=True))
    for _ in range(len(mine) + 3):
        bags = (BagEntry(1000, form="bottles", polymer="PET"),)
        OriginFactory(actor=other, happened_at=START, bags=bags)
    theirs = set(Lot.objects.filter(workshop_id=other.workshop_id).values_list("code", flat=True))
    only_theirs = sorted(theirs - mine)
    assert only_theirs
    for code in only_theirs:
        found = page("find/", status=404, code=slipped(code)).content.decode()
        assert f"/lots/{code}/" not in found
        assert meant(other, slipped(code)).count(code) == 1


@pytest.mark.slow
def test_slips_are_caught_and_the_right_code_suggested():
    """ISO/IEC 7064: a hybrid system finds every wrong character, and nearly all transpositions."""
    found, missed = 0, 0
    for number in range(1, 4000, 111):
        for letter in "LSR":
            right = code_for(letter, number)
            plain = right.replace("-", "")
            wrongs = substituted(plain)
            assert not [wrong for wrong in wrongs if read_code(wrong)], right
            for wrong in wrongs | transposed(plain):
                if read_code(wrong):
                    missed += 1
                elif looks_like_code(wrong):
                    found += 1
                    assert right in one_slip_away(wrong), (right, wrong)
    assert found > 5_000
    swaps = 0
    for number in range(1, 30_000, 7):
        plain = code_for("L", number).replace("-", "")
        swapped = transposed(plain)
        swaps += len(swapped)
        missed += sum(1 for wrong in swapped if read_code(wrong))
    assert missed / swaps < 0.012


def substituted(text: str) -> set[str]:
    """Put every other letter or figure of the same kind in every place."""
    found = set()
    for place, old in enumerate(text):
        kinds = "COPLSR" if place == 0 else ALPHABET if place == len(text) - 1 else ALPHABET[:10]
        for new in kinds:
            if new != old:
                found.add(text[:place] + new + text[place + 1 :])
    return found


def transposed(text: str) -> set[str]:
    """Let every two neighbours of the number change places."""
    return {
        text[:place] + text[place + 1] + text[place] + text[place + 2 :]
        for place in range(1, len(text) - 2)
        if text[place] != text[place + 1]
    }


def test_a_missing_letter_check_character_or_figure_is_suggested():
    assert code_for("L", 345) in one_slip_away("R345-L")
    assert "L345-L" in one_slip_away("345-L")
    assert one_slip_away("L345")[0] == "L345-L"
    assert "L345-L" in one_slip_away("L35-L")
    assert "L345-L" in one_slip_away("L3455-L")
    assert "L111-" + code_for("L", 111)[-1] in one_slip_away("LlI1-" + code_for("L", 111)[-1])


def test_the_address_on_a_label_leads_to_its_page(book, page, client):
    code = book.codes["shred flake"]
    printed = f"HTTPS://BOOK.EXAMPLE{label_path('quay', code)}"
    assert printed == f"HTTPS://BOOK.EXAMPLE/Q/QUAY/{code}"
    assert page("find/", status=302, code=printed)["Location"] == f"/w/quay/lots/{code}/"
    for path in (label_path("quay", code), label_path("quay", code).lower()):
        assert client.get(path)["Location"] == f"/w/quay/lots/{code}/"


def test_a_label_of_another_workshop_is_not_taken_for_ones_own(book, page):
    code = book.codes["shred flake"]
    printed = f"HTTPS://BOOK.EXAMPLE{label_path('elsewhere', code)}"
    assert page("find/", status=302, code=printed)["Location"] == f"/q/elsewhere/{code}"
    assert CodeField("Lot", slug="quay").clean(printed) == printed
    assert CodeField("Lot", slug="elsewhere").clean(printed.lower()) == code


def test_words_that_are_no_code_lead_to_the_lists(page):
    answer = page("find/", status=404, code="blue <b>bags</b>")
    html = answer.content.decode()
    assert "is not a code" in text_of(answer)
    assert "<b>bags</b>" not in html
    assert "/w/quay/stock/?text=blue%20%3Cb%3Ebags" in html


def test_the_empty_field_takes_the_focus(page):
    assert "autofocus" in page("find/").content.decode()
