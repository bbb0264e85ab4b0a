"""The OpenAPI 3.1 document of the API, made once."""

from __future__ import annotations

import functools

from django.http import HttpResponse
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.views import APIView

from api.protocol.answers import as_json
from api.protocol.problems import nothing_here


@functools.cache
def document() -> str:
    """Write the description of every address."""
    return as_json(SchemaGenerator().get_schema(request=None, public=True))


class SchemaApi(APIView):
    """Anyone may read how the API works."""

    http_method_names = ("get", "head")
    authentication_classes = ()
    permission_classes = ()

    @extend_schema(exclude=True)
    def get(self, request: Request) -> HttpResponse:
        return HttpResponse(document(), content_type="application/json")


class NowhereApi(APIView):
    """Addresses that lead nowhere, whoever asks and however."""

    authentication_classes = ()
    permission_classes = ()
    schema = None

    def initial(self, request: Request, *args: object, **path: object) -> None:
        raise nothing_here()
