"""Forms and fields as our pages show them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString


class PlainForm(forms.Form):
    """A form whose labels end as they are written, and that tells in words what is missing."""

    use_required_attribute = False

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **{"label_suffix": "", **options})


class Suggested(forms.TextInput):
    """Proposes names while one is typed."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names = list(names)
        super().__init__()

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        listed = format_html_join(
            "", '<option value="{}"></option>', ((one,) for one in self.names)
        )
        typed = super().render(name, value, {**(attrs or {}), "list": f"{name}-names"}, renderer)
        return format_html('{}<datalist id="{}-names">{}</datalist>', typed, name, listed)
