"""What is typed into an address where a code belongs."""

from django.urls import register_converter
from django.urls.converters import StringConverter


class TypedCode(StringConverter):
    """Anything with a figure in it, so that a mistyped code gets an answer of its own."""

    regex = "(?=[^/]*[0-9])[^/]{1,40}"


register_converter(TypedCode, "typed_code")
