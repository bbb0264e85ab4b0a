"""Collect every string that people read, and compile the translations; needs GNU gettext."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.commands import makemessages

from recycling.calc.reports import diversion
from recycling.queries.setup.practice import HEEL_IS_HOLDUP
from recycling.records.lots.origin_entries import BagEntry, OriginEntry
from recycling.records.quality.declared import QUANTITIES, RULES
from recycling.records.setup.first_settings import PRACTICES
from recycling.records.setup.practice import MATERIAL_FIELDS, NOT_CHECKED
from recycling.stages import STAGES, deviations
from recycling.stages.cautions import CAUTIONS
from shared.declared import words_in

DECLARED = Path(settings.ROOT) / "recycling" / "declared_words.py"
SHOWN = {"title", "summary", "label", "hint", "prompt", "choices", "reason", "remedy"}


def declared_words() -> list[str]:
    """List what is said below the doors, where nothing can be marked for translation."""
    words = [*CAUTIONS.values(), *diversion.IN_WORDS.values(), HEEL_IS_HOLDUP, NOT_CHECKED]
    words += [name for stage in STAGES for name in (*stage.cautions, stage.machine)]
    words += [field.label for field in PRACTICES]
    words += deviations.TITLES.values()
    words += [word for one in QUANTITIES.values() for word in (one.label, one.about)]
    words += RULES.values()
    words += [word for entry in (OriginEntry, BagEntry) for word in words_in(entry)]
    words += [field.label for fields_of in MATERIAL_FIELDS.values() for field in fields_of]
    for stage in STAGES:
        words += _words_of(stage)
    return sorted({word for word in words if word.strip()})


def _words_of(value: Any) -> Iterator[str]:
    for field in fields(value):
        inside = getattr(value, field.name)
        if field.name in SHOWN:
            yield from [inside] if isinstance(inside, str) else inside
        elif isinstance(inside, tuple):
            for one in inside:
                if is_dataclass(one):
                    yield from _words_of(one)


class Command(makemessages.Command):
    help = "Collect strings into recycling/locale and compile them. Needs GNU gettext."
    xgettext_options = [
        *makemessages.Command.xgettext_options,
        *("--keyword=say:1", "--keyword=because:2", "--keyword=add:2", "--keyword=Problem:2"),
    ]
    msgmerge_options = [*makemessages.Command.msgmerge_options, "--no-fuzzy-matching"]

    def add_arguments(self, parser: Any) -> None:
        super().add_arguments(parser)
        parser.set_defaults(
            locale=[code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE],
            no_location=True,
            no_wrap=True,
            no_obsolete=True,
            ignore_patterns=["tests/*", "var/*", ".venv/*", "recycling/management/*"],
        )

    def handle(self, *args: Any, **options: Any) -> None:
        lines = [f"gettext({word!r})\n" for word in declared_words()]
        lines += [f"pgettext('stage', {stage.title!r})\n" for stage in STAGES]
        DECLARED.write_text("".join(lines))
        try:
            super().handle(*args, **options)
        finally:
            DECLARED.unlink()
        call_command("compilemessages", locale=options["locale"], verbosity=0)
