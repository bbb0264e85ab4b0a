"""The worker that reads square codes in the browser: its answer alone may run WebAssembly."""

from __future__ import annotations

import json

from django.http import HttpRequest, HttpResponse
from django.templatetags.static import static
from django.views.decorators.http import require_safe

READER = "vendor/scanner-3.2.2"
POLICY = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; connect-src 'self'"
SCRIPT = """\
"use strict";
importScripts(%(reader)s);
SquareReader.prepare(%(wasm)s);
self.onmessage = async ({ data }) => {
  let found = [];
  let failure = "";
  try {
    const pixels = new Uint8ClampedArray(data.pixels);
    found = await SquareReader.read(new ImageData(pixels, data.width, data.height));
  } catch (error) {
    failure = String(error);
  }
  self.postMessage({ number: data.number, found, failure });
};
"""


@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """Answer with the worker's script and a policy of its own; pages keep the strict one."""
    names = {"reader": static(f"{READER}.min.js"), "wasm": static(f"{READER}.wasm")}
    script = SCRIPT % {key: json.dumps(address) for key, address in names.items()}
    answer = HttpResponse(script, content_type="text/javascript; charset=utf-8")
    answer["Content-Security-Policy"] = POLICY
    answer["Cache-Control"] = "no-cache"
    return answer
