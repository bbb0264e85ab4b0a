"""What somebody without an account does at a public address, in a real browser."""

from __future__ import annotations

import pytest

from recycling.reports.asked import report_file
from recycling.services.reports.links import report_link_give
from tests.histories import tell
from tests.reports.conftest import STORY, made

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def told(db):
    """Tell it where the server's own connection sees it."""
    return tell(STORY)


def test_anybody_verifies_a_file_at_the_public_address(live_server, chromium, told, tmp_path):
    code = made(told, title="For all")
    address = f"{live_server.url}/r/{report_link_give(told.actor, code).token}/"
    held = report_file(told.actor, code, "csv")[1]
    page = chromium.new_page()
    for name, content, said in (
        ("same.csv", held, "as it was frozen"),
        ("changed.csv", held.replace(b"For all", b"For one"), "not a file of this report"),
    ):
        (tmp_path / name).write_bytes(content)
        page.goto(address)
        page.locator("#verify-file").set_input_files(tmp_path / name)
        page.get_by_role("button", name="Verify it").click()
        page.get_by_text(said).first.wait_for()
    page.close()
