"""Shared tablets as pages show them."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

LOCK_MINUTES = 5


@dataclass(frozen=True)
class TabletHere:
    """The shared tablet that asks.

    Attributes
    ----------
    id, workshop_id : int
        Keys of the tablet and its workshop.
    slug, workshop, label : str
        Short name and name of the workshop, name of the tablet.
    lock_minutes : int
        After so many minutes untouched it asks who is acting.
    """

    id: int
    workshop_id: int
    slug: str
    workshop: str
    label: str
    lock_minutes: int


@dataclass(frozen=True)
class TabletRow:
    """A shared tablet in the list of set-up.

    Attributes
    ----------
    id : int
        Its key.
    label, by : str
        Its name, and who made the device a shared tablet.
    created_at, last_used_at : datetime
        When that was, and when somebody unlocked it last.
    """

    id: int
    label: str
    by: str
    created_at: datetime
    last_used_at: datetime | None


@dataclass(frozen=True)
class TabletIssued:
    """A device that was made a shared tablet; the token is for its cookie, and shown nowhere.

    Attributes
    ----------
    id : int
        Its key.
    token : str
        What the device keeps.
    """

    id: int
    token: str


@dataclass(frozen=True)
class SessionRecord:
    """Where somebody is signed in.

    Attributes
    ----------
    mark : str
        Names the session and opens nothing.
    device : str
        The browser and system that it said it is.
    started_at, seen_at : datetime
        When they signed in, and when it was used last; the latter to about an hour, where known.
    here : bool
        Whether it is the one that asks.
    """

    mark: str
    device: str
    started_at: datetime
    seen_at: datetime | None
    here: bool


@dataclass(frozen=True)
class WorkshopRecord:
    """The workshop itself.

    Attributes
    ----------
    name, slug, zone : str
        What it is called, its short name in addresses, and the zone its times are shown in.
    """

    name: str
    slug: str
    zone: str


@dataclass(frozen=True)
class MemberRecord:
    """A member.

    Attributes
    ----------
    id : int
        Its id.
    name, role : str
        How the member is called, and lead, operator or viewer.
    active : bool
        Whether the person may come in.
    erased : bool
        Whether the name was erased; a number stands in its place.
    earlier_names : list of EarlierNameRecord
        What the person was called before, the newest first; shown of one member to a lead.
    """

    id: int
    name: str
    role: str
    active: bool = True
    erased: bool = False
    earlier_names: list[EarlierNameRecord] = field(default_factory=list)


@dataclass(frozen=True)
class EarlierNameRecord:
    """What somebody was called until a moment.

    Attributes
    ----------
    name : str
        The name.
    until_at : datetime
        When it was changed.
    """

    name: str
    until_at: datetime


@dataclass(frozen=True)
class KeyRecord:
    """A key for a device; the secret itself is not kept.

    Attributes
    ----------
    id : int
        Its id.
    label, prefix, scope, member : str
        What it is for, how it begins, what it may do, and for whom it acts.
    created_at, expires_at : datetime
        Since when and until when it is valid.
    last_used_at : datetime or None
        When it was last used.
    revoked : bool
        Whether it was revoked.
    """

    id: int
    label: str
    prefix: str
    scope: str
    member: str
    created_at: datetime
    expires_at: datetime
    last_used_at: datetime | None
    revoked: bool


@dataclass(frozen=True)
class WorkshopChange:
    """A change to the workshop's own details; times are kept as moments, the zone shows them.

    Attributes
    ----------
    name, zone : str or None
        What it is called, and its IANA time zone.
    """

    name: str | None = None
    zone: str | None = None


@dataclass(frozen=True)
class MemberChange:
    """A change to a member.

    Attributes
    ----------
    new_role : str or None
        "lead", "operator" or "viewer".
    active : bool or None
        Whether the person may come in; false ends it, and all of the person's keys here.
    name : str or None
        How the person is called from now on, on earlier entries too.
    """

    new_role: str | None = None
    active: bool | None = None
    name: str | None = None


@dataclass(frozen=True)
class WorkshopEntry:
    """A new workshop and its first lead.

    Attributes
    ----------
    name, slug, zone : str
        What it is called, its short name in addresses, and its IANA time zone.
    lead_name, username, password : str
        Its first member, and how they sign in.
    """

    name: str
    slug: str
    lead_name: str
    username: str
    password: str = field(repr=False, default="")
    zone: str = "UTC"


@dataclass(frozen=True)
class MemberEntry:
    """Somebody who joins.

    Attributes
    ----------
    username, name : str
        How they sign in, and how they are called in the book.
    role : str
        "lead", "operator" or "viewer".
    password : str
        First password, where the person is new to the service.
    """

    username: str
    name: str
    role: str
    password: str = field(repr=False, default="")


@dataclass(frozen=True)
class KeyEntry:
    """A key for a device.

    Attributes
    ----------
    label : str
        What it is for.
    scope : str
        "read", "record" or "manage".
    days : int
        How long it is valid.
    member : str
        Name of the member it acts for; empty for oneself.
    """

    label: str
    scope: str = "record"
    days: int = 365
    member: str = ""
