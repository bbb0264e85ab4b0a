"""The workshop: the tenant. Its key is its book's key."""

from __future__ import annotations

import uuid

from django.db import models

from recycling.ledger.models import Book


class Workshop(models.Model):
    """``identity`` is random and stays the same wherever the workshop is kept."""

    book = models.OneToOneField(Book, models.PROTECT, primary_key=True, related_name="workshop")
    name = models.CharField(max_length=120)
    slug = models.SlugField(max_length=40, unique=True)
    zone = models.CharField(max_length=60, default="UTC")
    trace_floor_ppm = models.PositiveIntegerField(default=1)
    identity = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)

    def __str__(self) -> str:
        return self.name
