"""Archives through the API: asked for once, followed, fetched, and for nobody but a lead."""

from __future__ import annotations

import hashlib
import io

import pytest

from recycling.models import Job, WorkshopArchive
from recycling.services.integrity.archive_make import TASK, archive_make
from recycling.tables.integrity import open_archive

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(tmp_path, settings):
    settings.DATA_DIR = tmp_path


def test_an_archive_is_asked_for_once_followed_and_fetched(shop, other_shop):
    first, again = (
        shop.api.post("/archives/", {"people": False}, status=202, Idempotency_Key="k")
        for _ in range(2)
    )
    assert first == again and WorkshopArchive.objects.count() == 1
    assert (first["number"], first["state"], first["digest"]) == (1, "making", "")
    shop.api.post("/archives/", {"people": True}, status=422, Idempotency_Key="k")
    shop.api.get("/archives/1.zip", 404)
    assert archive_make(Job.objects.get(task=TASK).pk)
    found = shop.api.read("/archives/1/")
    assert found["state"] == "ready"
    answer = shop.api.client.get("/api/v1/archives/1.zip", headers=shop.api.headers)
    assert answer["Content-Type"] == "application/zip" and found["name"] in str(answer.headers)
    held = b"".join(answer.streaming_content)
    assert hashlib.sha256(held).hexdigest() == found["digest"]
    with open_archive(io.BytesIO(held)) as archive:
        assert archive.manifest.about["workshop"]["slug"] == shop.lead.slug
    assert [one["number"] for one in shop.api.read("/archives/")["rows"]] == [1]
    for path in ("/archives/1/", "/archives/1.zip"):
        other_shop.api.get(path, 404)
