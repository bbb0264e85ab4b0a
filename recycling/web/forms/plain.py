"""Forms as our pages show them."""

from __future__ import annotations

from typing import Any

from django import forms


class PlainForm(forms.Form):
    """A form whose labels end as they are written, and that tells in words what is missing."""

    use_required_attribute = False

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **options})
