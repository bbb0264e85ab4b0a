"""Requests drawn at random from the OpenAPI document: fitting ones, extreme ones, damaged ones.

What a request names (lots, runs, machines, …) is mostly taken from answers that came before, so
that a good part of the requests is accepted. The same dice draw the same requests from the same
answers.
"""

from __future__ import annotations

import json
import random
import re
import uuid
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any
from urllib.parse import quote, urlencode

from recycling.records.quality.verdicts import DEFECTS
from recycling.stages import STAGES
from recycling.stages.declaration import ANOTHER_POLYMER, FORMS
from recycling.stages.fields import Field
from tests.factories import START

TEXTS = (
    *("", " ", "0", "-1", "null", "=1+1", "a\x00b", "\ud800", "\u202eabc", "\x7f", "🧵", "１２"),
    *(
        "ß" * 300,
        "x" * 5_000,
        "../..",
        "%00",
        "'--",
        "1_000 g",
        "1,5 kg",
        "\r\nX-More: 1",
        "é\u0301",
    ),
)
NUMBERS = (
    *(0, -1, 1, 2, 0.1, 1.5, -0.0, 1e-300, 1e15, 1e16, 1e308, 2**31, 2**53 + 1, 2**63 - 1),
    *(2**63, -(2**63), 10**12, 10**12 + 1, 10**30, 10**400),
)
MOMENTS = (
    *("0001-01-01T00:00:00Z", "0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"),
    *("1970-01-01T00:00:00Z", "2024-02-30T10:00:00Z", "2024-06-30T23:59:60Z", "2024-05-06"),
    *("2024-03-31T02:30:00+01:00", "2024-05-06T10:00:00", "2024-05-06T10:00:00+25:00"),
)
DAYS = ("0001-01-01", "9999-12-31", "2024-02-29", "2023-02-29", "2024-1-1", "1999-12-31")
ODD = (None, True, [], {}, [[]], {"": 0}, "", 0, -1, 2**63, 0.5)
NO_JSON = (b"", b"{", b"[1,", b'{"a":1,"a":2}', b"NaN", b"\xff\xfe", b'{"a":1e999}', b"[" * 5_000)
NOWHERE = ("0", "999999999", "9223372036854775807", "9" * 30, "L0-0", "L1-X", "%00", "x" * 60, "ß")
HEADERS = ("Accept", "If-Match", "If-None-Match", "Idempotency-Key", "Content-Type")
HEADER_TEXTS = (
    *("*", '"x"', "W/", "", "é", "k" * 201, "*/*"),
    *("text/csv", "text/plain", "application/json"),
)
NAMED_AS = {"parts": "part", "files": "file", "logged": "id", "holds": "hold", "keys": "key",
            "postings": "posting", "links": "link", "changeovers": "changeover"}  # fmt: skip
"""Fields of answers that hold what an address takes; elsewhere it is a code, a number or an id."""
CALLED = {"lot": "lots", "lots": "lots", "spools": "spools", "supersedes": "reports",
          "after": "next", "origin": "collections"}  # fmt: skip
"""Fields of bodies and queries that take what an address takes too."""


FORMS_OF = {
    "/filament/": ("filament",),
    "/verdicts/": ("filament",),
    "/particles/": ("flake", "dried flake"),
}
CODED = ("runs", "collections", "reports")
API = "/api/v1/"
MASSES = re.compile(r"^(mass|gross|tare|u|interval|capacity|target|\w+_used)$")


@dataclass
class Drawn:
    """One request."""

    method: str
    template: str
    path: str
    headers: dict[str, str] = field(default_factory=dict)
    raw: bytes = b""

    def __str__(self) -> str:
        return f"{self.method} {self.path} {self.raw[:600].decode(errors='replace')}"


@dataclass
class Drawing:
    """Draws requests and learns from what comes back."""

    document: dict[str, Any]
    dice: random.Random
    seen: dict[str, list[Any]] = field(default_factory=dict)
    lots: dict[str, dict[str, Any]] = field(default_factory=dict)
    machines: dict[str, int] = field(default_factory=dict)
    open_runs: dict[str, str] = field(default_factory=dict)
    fixed: frozenset[str] = frozenset({"members", "defects", "form"})
    clock: int = 0

    def __post_init__(self) -> None:
        self.operations = [
            (method.upper(), path, operation)
            for path, item in self.document["paths"].items()
            for method, operation in item.items()
        ]
        self.weights = [
            16 if (method, path) == ("POST", f"{API}runs/") else 1 if method == "GET" else 2
            for method, path, _ in self.operations
        ]
        self.seen |= {"defects": list(DEFECTS), "form": list(FORMS)}

    # Learning

    @property
    def listings(self) -> list[str]:
        """The addresses that list what other addresses take."""
        paths = self.document["paths"]
        within = {path.partition("{")[0] for path in paths if "{" in path}
        return sorted(within & paths.keys() - {f"{API}members/", f"{API}keys/"})

    def learn(self, template: str, answer: Any) -> None:
        """Remember what an accepted request was answered."""
        if template == f"{API}keys/" and "rows" in answer:
            return  # these are the callers' own; they must not be revoked
        place = re.sub(r"/({\w+}/)?$", "", template.removeprefix(API))
        listed = answer.get("rows") or [answer]
        for name, value, whole in _leaves(answer):
            self._keep(name, value)
            if name == "code" and {"form", "made_mg", "mass_mg"} <= whole.keys():
                self._keep("lots", value)
                self.lots[value] = whole
            elif name in ("code", "number", "id") and any(whole is row for row in listed):
                kept = place.rpartition("/")[2]
                if (name == "code") == (kept in CODED):
                    self._keep(kept, value)
            if name == "code" and whole.get("state") == "open" and "stage" in whole:
                self.open_runs[value] = whole["stage"]
            elif name == "code":
                self.open_runs.pop(value, "")
            if name == "name" and place in ("sources", "programmes", "scales"):
                self._keep(f"{place.removesuffix('s')} names", value)
            if name == "serial":
                self._keep("spools", whole.get("code", value))
            if name == "id" and {"kind", "heel"} <= whole.keys():
                self.machines.setdefault(whole["kind"], value)
            for address, called in NAMED_AS.items():
                if name == called and type(value) is int and (name != "id" or "rows" not in answer):
                    self._keep(address, value)

    def _keep(self, name: str, value: Any) -> None:
        kept = self.seen.setdefault(name, [])
        if value not in kept and name not in self.fixed:
            kept.append(value)
            del kept[:-40]

    # Drawing

    def request(self) -> Drawn:
        """Draw the next one."""
        method, template, operation = self.dice.choices(self.operations, self.weights)[0]
        way = self.dice.choices(("fitting", "extreme", "damaged"), (6, 2, 2))[0]
        asked = [one for one in operation.get("parameters", ()) if one["in"] == "query"]
        path = self._address(template, way) + self._query(asked, way)
        drawn = Drawn(method, template, path, self._headers(method, way))
        if method == "GET":
            return drawn
        shape = operation["requestBody"]["content"]["application/json"]
        drawn.raw = json.dumps(self._body(template, path, shape, way)).encode()
        if way == "damaged" and self.dice.random() < 0.1:
            drawn.raw = self.dice.choice(NO_JSON)
        return drawn

    def _headers(self, method: str, way: str) -> dict[str, str]:
        headers = {}
        if method != "GET":
            headers["Idempotency-Key"] = str(uuid.UUID(int=self.dice.getrandbits(128)))
        if way != "fitting" and self.dice.random() < 0.2:
            name = self.dice.choice(HEADERS)
            headers[name] = self.dice.choice(HEADER_TEXTS)
        return headers

    def _address(self, template: str, way: str) -> str:
        def fill(match: re.Match[str]) -> str:
            place = template[: match.start()].rstrip("/").rpartition("/")[2]
            known = self.seen.get(place)
            if way == "fitting" and place == "runs" and self.open_runs:
                known = list(self.open_runs)
            for about, forms in FORMS_OF.items():
                if about in template:
                    known = [one for one, lot in self.lots.items() if lot["form"] in forms]
            if "changeovers/" in template and place == "machines":
                known = [self.machines.get("extruder")]
            if not known or self.dice.random() < (0.02 if way == "fitting" else 0.2):
                return quote(self.dice.choice(NOWHERE), safe="%")
            return quote(str(self.dice.choice(known)))

        return re.sub(r"{\w+}", fill, template)

    def _query(self, asked: list[dict[str, Any]], way: str) -> str:
        given = [
            (one["name"], self._value(one["schema"], one["name"], one.get("description", ""), way))
            for one in asked
            if one["name"] == "lots" or self.dice.random() < 0.3
        ]
        if way == "damaged" and self.dice.random() < 0.3:
            given += [self.dice.choice([*given, ("colour", "red"), ("", "")])]
        said = [(name, json.dumps(v) if isinstance(v, bool) else v) for name, v in given]
        return "?" + urlencode(said, errors="replace") if said else ""

    def _body(self, template: str, path: str, shape: dict[str, Any], way: str) -> Any:
        examples = [one["value"] for one in shape.get("examples", {}).values()]
        if template == f"{API}runs/" and self.lots and self.dice.random() < 0.8:
            body = self._run()
        elif way == "fitting" and path.split("/")[-3] in self.open_runs:
            body = self._step(self.open_runs[path.split("/")[-3]], path.split("/")[-2])
        elif examples and way != "extreme" and self.dice.random() < 0.7:
            body = self._known(deepcopy(self.dice.choice(examples)))
        else:
            body = self._value(shape["schema"], "", "", way)
        return self._damaged(body) if way == "damaged" else body

    def _run(self) -> dict[str, Any]:
        """Draw a run that takes from a lot that is there."""
        lot = self.dice.choice(list(self.lots.values()))
        fitting = [one for one in STAGES if lot["form"] in one.takes and one.key != "blend"]
        declared = self.dice.choice(fitting)
        mass = max(1, (lot["mass_mg"] or lot["made_mg"]) // self.dice.randint(2, 6))
        body = {"stage": declared.key, "started_at": self._moment(), "ended_at": self._moment()}
        taken = {"lot": lot["code"], "mass_mg": mass}
        if declared.key == "count":
            return body | {"counts": [taken]}
        body["inputs"] = [taken]
        body["checks"] = [
            {"key": one.key, "value": self._noted(one)}
            for one in declared.checks
            if one.required or self.dice.random() < 0.3
        ]
        if declared.machine in self.machines:
            body["machine"] = self.machines[declared.machine]
        if declared.gives and self.dice.random() < 0.3:
            del body["ended_at"]
            return body | {"state": "open"}
        given = [one for one in declared.gives if one.polymer != ANOTHER_POLYMER]
        if given:
            out = {"form": self.dice.choice(given).form, "mass_mg": max(1, mass * 9 // 10)}
            spool = out["form"] == "filament" and declared.key in ("extrude", "wind")
            body["outputs"] = [out | ({"spool": {"diameter_mm": 1.75}} if spool else {})]
        return body

    def _step(self, stage: str, what: str) -> dict[str, Any]:
        """Draw what may happen to an open run."""
        declared = next(one for one in STAGES if one.key == stage)
        mass = {"mass_mg": self.dice.randint(1, 2_000)}
        if what == "draws":
            lots = [one["code"] for one in self.lots.values() if one["form"] in declared.takes]
            return {"lot": self.dice.choice(lots), **mass}
        if what == "outputs":
            return {"form": self.dice.choice(declared.gives).form, **mass}
        if what == "losses":
            return {
                "account": self.dice.choice(declared.losses or STAGES[1].losses).account,
                **mass,
            }
        fields = declared.settings if what == "settings" else declared.checks
        if what in ("settings", "checks") and fields:
            one = self.dice.choice(fields)
            return {"key": one.key, "value": self._noted(one)}
        return {"reason": "as told"} if what == "void" else {}

    def _noted(self, one: Field) -> Any:
        if one.choices:
            return self.dice.choice(one.choices)
        return one.minimum or 1 if one.kind == "number" else "as told"

    def _known(self, example: Any) -> Any:
        """Put what the book has in the places of what an example names."""
        if isinstance(example, list):
            return [self._known(one) for one in example]
        if not isinstance(example, dict):
            return example
        return {
            name: self._known(value)
            if isinstance(value, dict | list)
            else self._likely(name, value)
            for name, value in example.items()
        }

    def _likely(self, name: str, value: Any) -> Any:
        if name in CALLED and self.seen.get(CALLED[name]):
            return self.dice.choice(self.seen[CALLED[name]])
        if name in ("name", "code", "title") and isinstance(value, str):
            return f"{value} {self.dice.randrange(1000)}"
        if name == "machine":
            known = list(self.machines.values())
            return self.machines.get(str(value).rpartition(" ")[0]) or self.dice.choice(known)
        if name in ("source", "programme", "scale") and isinstance(value, str):
            return self.dice.choice(self.seen.get(f"{name} names") or [value])
        if name == "at" or name.endswith("_at"):
            return self._moment()
        return value

    def _moment(self) -> str:
        self.clock += self.dice.randint(1, 600)
        return (START + timedelta(days=1, seconds=self.clock)).isoformat()

    def _value(self, part: dict[str, Any], name: str, about: str, way: str) -> Any:
        """Draw a value for a part of the document."""
        about = part.get("description", about)
        while "$ref" in part:
            part = self.document["components"]["schemas"][part["$ref"].rpartition("/")[2]]
        for choice in ("oneOf", "anyOf"):
            if choice in part and "properties" not in part:
                return self._value(self.dice.choice(part[choice]), name, about, way)
        if "allOf" in part and "properties" not in part:
            return self._value(part["allOf"][0], name, about, way)
        if "enum" in part:
            return self.dice.choice(part["enum"])
        kinds = part.get("type", "object")
        kind = self.dice.choice(kinds) if isinstance(kinds, list) else kinds
        if kind == "object":
            return self._object(part, way)
        if kind == "array":
            few = self.dice.choice((0, 1, 1, 2, 3))
            return [self._value(part["items"], name, about, way) for _ in range(few)]
        if kind in ("null", "boolean"):
            return None if kind == "null" else self.dice.random() < 0.5
        extreme = way == "extreme" and self.dice.random() < 0.4
        if kind in ("integer", "number"):
            return self._number(part, name, kind == "integer", extreme)
        return self._text(part, name, about, extreme)

    def _object(self, part: dict[str, Any], way: str) -> dict[str, Any]:
        needed = set(part.get("required", ()))
        for ways in part.get("allOf", ()):
            needed |= set(self.dice.choice(ways["anyOf"])["required"])
        share = 0.5 if way == "extreme" else 0.15
        drawn: dict[str, Any] = {}
        for name, inner in part.get("properties", {}).items():
            wanted = name in needed or self.dice.random() < share
            if wanted and (way == "extreme" or f"{name}_mg" not in drawn):
                drawn[name] = self._value(inner, name, "", way)
        return drawn

    def _number(self, part: dict[str, Any], name: str, whole: bool, extreme: bool) -> int | float:
        known = [one for one in self.seen.get(name, ()) if type(one) in (int, float)]
        if extreme:
            found = self.dice.choice(NUMBERS)
        elif known and self.dice.random() < 0.6:
            found = abs(self.dice.choice(known))
        else:
            found = self.dice.randint(int(part.get("minimum", 1)), int(part.get("maximum", 2_000)))
        return int(found) if whole else found

    def _text(self, part: dict[str, Any], name: str, about: str, extreme: bool) -> str:
        if part.get("format") == "date-time":
            return self.dice.choice(MOMENTS) if extreme else self._moment()
        if part.get("format") == "date":
            return self.dice.choice(DAYS) if extreme else self._moment()[:10]
        if extreme:
            return self.dice.choice(TEXTS)
        if MASSES.match(name):
            return f"{self.dice.randint(1, 5_000)} g"
        known = re.findall(r"[“\"](\w[^”\"]*)[”\"]", about)
        if not known or self.dice.random() < 0.2:
            known = [one for one in self.seen.get(CALLED.get(name, name), ()) if type(one) is str]
        made_up = f"said {self.dice.randrange(1000)}"
        return self.dice.choice(known) if known and self.dice.random() < 0.9 else made_up

    def _damaged(self, body: Any) -> Any:
        """Break a body in one place."""
        body = deepcopy(body)
        places = list(_places(body))
        if not places:
            return self.dice.choice(ODD)
        inside, key = self.dice.choice(places)
        deed = self.dice.randrange(4)
        if deed == 0:
            del inside[key]
        elif deed == 1 and isinstance(inside, dict):
            inside[f"{key}x"] = inside[key]
        elif deed == 2:
            inside[key] = [inside[key]]
        else:
            inside[key] = self.dice.choice(ODD + TEXTS)
        return body


def _leaves(value: Any) -> Iterator[tuple[str, Any, dict[str, Any]]]:
    """Walk the named scalars of an answer, each with the object that it stands in."""
    if isinstance(value, dict):
        for name, inner in value.items():
            if isinstance(inner, dict | list):
                yield from _leaves(inner)
            elif inner not in (None, ""):
                yield name, inner, value
    elif isinstance(value, list):
        for inner in value[:40]:
            yield from _leaves(inner)


def _places(body: Any) -> Iterator[tuple[Any, Any]]:
    """Walk the places of a body where something may be broken."""
    if not isinstance(body, dict | list):
        return
    for key, value in list(body.items() if isinstance(body, dict) else enumerate(body)):
        yield body, key
        yield from _places(value)
