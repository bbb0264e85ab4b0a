"""The tag of the menu, which stands on every page of a workshop."""

from __future__ import annotations

from django import template
from django.template import Context

from recycling.web.pages.menu import Menu, menu_of

register = template.Library()


@register.simple_tag(takes_context=True)
def menu(context: Context) -> Menu:
    """Give the menu of who is acting, with the current entry marked."""
    path = str(getattr(context.get("request"), "path", ""))
    return menu_of(context["actor"], str(context.get("nav", "")), path)
