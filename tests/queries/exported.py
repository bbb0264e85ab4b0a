"""What tests of exports share: the official schema and context, and a book with every deed."""

from __future__ import annotations

import functools
import json
from typing import Any

from tests.checked import standard

BOOK = """
C1: bottles PET 5kg, 3kg
P2: pellets PET 4kg
O3: heel PET 40g in extruder
R1 sort C1.1 4.9kg, C1.2 all -> clean bottles 7kg, caps HDPE 300g, ~residue 20g
R2 shred R1.1 5kg -> flake 4.9kg, oversize 50g, ~dust 10g
R3 dry R2.1 2kg -> dried flake 1990g, ~water 8g
R4 extrude R3.1 1kg, O3.1 all -> filament 900g spool, heel 60g
R5 dispatch R4.1 all
R8 discard R1.2 100g
open R6 shred R1.1 1kg
R6 draws R1.1 500g
R6 gives flake 700g, fines 10g
R6 loses ~dust 5g
close R6
count R7: R2.1 2.8kg, R2.2 0g
correct R1 draw C1.1 4.8kg
correct R1 draw C1.1 4.7kg
correct R6 gave R6.1 800g
correct R2 loss dust 20g
hold R2.1 spreading
release R2.1
void R5
"""


@functools.cache
def validator() -> Any:
    """Make a validator of the official GS1 EPCIS 2.0 JSON Schema that checks formats too."""
    from jsonschema import Draft7Validator, FormatChecker

    schema = json.loads(standard("epcis/EPCIS-JSON-Schema.json").read_text(encoding="utf-8"))
    return Draft7Validator(schema, format_checker=FormatChecker())


def problems(document: dict[str, Any]) -> list[str]:
    """Say what the official schema has against a document."""
    return [error.message for error in validator().iter_errors(document)]


def assert_valid(document: dict[str, Any]) -> None:
    """Fail with the first event that the schema has something against."""
    if not problems(document):
        return
    for event in document["epcisBody"]["eventList"]:
        found = problems({"@context": document["@context"], **event})
        assert not found, (event, found[0][:400])
    raise AssertionError(problems(document)[0][:400])
