"""The service worker: one script at the root, so that it may keep pages of every workshop."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.views.decorators.http import require_safe

from recycling.web.forms.beside import CARRIED

STATIC = Path(__file__).resolve().parent.parent / "static"
WORKER = "look/worker.js"
SHARED = ("look/outbox_store.js", "look/holder.js")
"""What the worker shares with pages, in this order."""
VENDOR = ("vendor/htmx-4.0.1.min.js",)
"""What pages at the bench load beside our own files; charts and the camera want a network."""


def kept_files() -> list[str]:
    """Name the files that a device keeps: our own look, and what each page loads with it."""
    own = [str(path.relative_to(STATIC)) for path in (STATIC / "look").rglob("*")]
    wanted = [name for name in own if name.endswith((".css", ".js", ".svg", ".woff2"))]
    return sorted({*wanted, *VENDOR} - {WORKER, "look/charts.js"})


@lru_cache(maxsize=1)
def worker_text() -> str:
    """Put the worker together; its version changes with any of the files that it keeps."""
    names = kept_files()
    digest = hashlib.sha256()
    for name in [*names, WORKER]:
        digest.update((STATIC / name).read_bytes())
    head = {
        "VERSION": digest.hexdigest()[:16],
        "ASSETS": [static(name) for name in names],
        "CARRIED": CARRIED,
    }
    lines = [f"const {name} = {json.dumps(value)};" for name, value in head.items()]
    return "\n".join([*lines, *((STATIC / name).read_text() for name in (*SHARED, WORKER))])


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    answer = HttpResponse(worker_text(), content_type="text/javascript; charset=utf-8")
    answer["Cache-Control"] = "no-cache"
    answer["Service-Worker-Allowed"] = "/"
    return answer


@require_safe
def without_network(request: HttpRequest) -> HttpResponse:
    """Say that a page is not at hand; kept by each device, and the same for everybody."""
    return render(request, "offline/without_network.html")
