"""Reading a body: strict JSON, once, within bounds."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from django.conf import settings
from rest_framework.parsers import BaseParser

from api.protocol.bounds import check_bounds
from api.protocol.problems import BadRequest, TooLarge
from recycling.tables.lists.json_fields import LONGEST_NAME, name_twice
from shared.errors import Refused
from shared.said import say


class StrictJSONParser(BaseParser):
    """JSON without NaN, without a name given twice, without texts that cannot be kept."""

    media_type = "application/json"

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        door = (parser_context or {}).get("view")
        most = getattr(door, "largest_body", settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
        raw = stream.read(most + 1)
        if len(raw) > most:
            raise TooLarge.because(
                "body-too-large", say("A body is at most {most} bytes.", most=most)
            )
        try:
            data = json.loads(
                raw.decode(), object_pairs_hook=_without_repeats, parse_constant=_no_number
            )
            check_bounds(data)
            canonical(data).encode()
        except Refused:
            raise
        except UnicodeError as error:
            raise BadRequest.because("body-no-text", "The body is not UTF-8 text.") from error
        except (ValueError, RecursionError) as error:
            raise BadRequest.because(
                "body-no-json", say("The body is not JSON: {error}", error=error)
            ) from error
        return data


def canonical(data: Any) -> str:
    """Write what a body says, however it was spaced and ordered."""
    return json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _without_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    data = dict(pairs)
    if len(data) != len(pairs):
        raise ValueError(f"“{name_twice(pairs)[:LONGEST_NAME]}” is given twice.")
    return data


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number.")
