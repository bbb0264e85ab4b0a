"""Which language a page speaks: as chosen, else as the browser asks; the API speaks English."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.middleware.locale import LocaleMiddleware
from django.utils import translation
from django.utils.translation import gettext

from recycling.stages import STAGES
from recycling.web import words
from shared.errors import Refused
from shared.said import Said


class LanguageMiddleware(LocaleMiddleware):
    def process_request(self, request: HttpRequest) -> None:
        if request.path_info.startswith("/api/"):
            translation.activate("en")
            request.LANGUAGE_CODE = "en"
            return
        super().process_request(request)


def in_language(text: str) -> str:
    """Say a sentence again in the language of the page, its values kept."""
    if not isinstance(text, Said):
        return gettext(text) if text else text
    values = {name: _value(value) for name, value in text.values.items()}
    return gettext(text.pattern).format(**values)


def _value(value: Any) -> Any:
    if isinstance(value, Said):
        return in_language(value)
    return gettext(value) if isinstance(value, str) and value in _known() else value


def _known() -> set[str]:
    """Words of the trade that stand as values: forms, roles, stages; never a name typed here."""
    return {*words.FORMS, *(form.replace("_", " ") for form in words.FORMS), *words.ROLES} | {
        stage.title for stage in STAGES
    }


def refusal_words(refused: Refused) -> str:
    """Say all problems of a refusal in one line."""
    return "; ".join(in_language(problem.detail) for problem in refused.problems)
