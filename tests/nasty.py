"""What people type, paste and try: texts that a book keeps, and texts that no door takes.

Sources: The Unicode Standard 16.0, chapters 3, 5 and 23 and UTS #51 for emoji sequences, from
memory.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import cycle
from typing import Any

from django.apps import apps
from django.db import connection, models

from recycling.ledger import guards
from recycling.ledger.models import Entry

KEPT = {
    "a family": "👨‍👩‍👧‍👦 Ana",
    "right to left": "שלום (12 kg) مرحبا",
    "stacked marks": "Z̷̢͈a̸͍l͎̼g̴͔o",
    "a mark alone": "\u0301Zoë",
    "private icons": "\ue000 \U000f0000 shop",
    "a flag and a keycap": "🏴"
    "\U000e0067\U000e0062\U000e0065\U000e006e\U000e0067\U000e007f 1\ufe0f\u20e3 👍🏽",
    "signs without a shape": "a\u200bb\ufeffc\u2060d\u00ade\u200e",
    "many letters of many": "".join(map(chr, range(0x4E00, 0x4E28))),
    "not yet assigned": "\u0378\U000e0fffx",
    "quotes and code": "=1+1 '\"<b>&amp;</b> #eval(1) $x$ {0} %(a)s </script> \\u{41}",
    "no words at all": "\ufffc\ufffd \ufff9a\ufffab\ufffb",
    "scripts that join": "हिन्दी ไทย 日本",
}
REFUSED = {
    "null": "a\x00b",
    "bell": "a\x07b",
    "escape": "a\x1b[31mb",
    "unit separator": "a\x1fb",
    "delete": "a\x7fb",
    "next line": "a\x85b",
    "C1": "a\x9fb",
    "noncharacter": "a\ufdd0b",
    "noncharacter at a plane's end": "a\ufffeb",
    "noncharacter far out": "a\U0010ffffb",
    "override": "a\u202eb",
    "isolate": "a\u2066b",
}
ENDS_OF_LINES = {"line feed": "a\nb", "line": "a\u2028b", "paragraph": "a\u2029b"}
"""Refused in texts of one line."""
OF_THE_PROGRAM = {
    *("accuracy_class", "after", "before", "body", "bucket", "code", "commodity", "currency"),
    *("composition_model", "deed", "digest", "fingerprint", "form", "giver", "how", "key"),
    *("kind", "language", "material", "password", "polymer", "prefix", "reference", "role"),
    *("scope", "seed", "slug", "stage", "state", "step", "subject", "task", "token", "unit"),
    *("value", "zone"),
}
"""Fields whose words the program gives, or that name something by its code."""


def texts_of(model: type[models.Model]) -> list[models.Field[Any, Any]]:
    """Give the fields of a model that hold what somebody typed."""
    return [
        field
        for field in model._meta.concrete_fields
        if isinstance(field, models.CharField | models.TextField)
        and not field.choices
        and field.name not in OF_THE_PROGRAM
    ]


def make_nasty(texts: Collection[str]) -> int:
    """Put texts, one after the other, into every field that holds what somebody typed; count."""
    said = cycle(texts)
    count = 0
    with guards.lifted(connection):
        for model in [*apps.get_app_config("recycling").get_models(), Entry]:
            fields = texts_of(model)
            for row in model._default_manager.order_by("pk") if fields else ():
                end = f" {row.pk}"
                values = {
                    field.name: next(said)[: (field.max_length or 500) - len(end)] + end
                    for field in fields
                }
                model._default_manager.filter(pk=row.pk).update(**values)
                count += len(values)
    return count
