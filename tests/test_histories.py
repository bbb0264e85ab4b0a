"""The notation itself: what its docstring shows is told, and names what it says."""

from __future__ import annotations

import pytest

from recycling.models import Run
from shared.errors import Refused
from tests import histories
from tests.factories import KG, G

pytestmark = pytest.mark.django_db


def test_the_docstring_is_a_history():
    text = histories.__doc__.split("::\n", 1)[1].split("\n``C1.2``")[0]
    told = histories.tell(text)
    assert told.on_hand("C1.1") == 200 * G  # 5 kg, of which 4.8 kg after the correction
    assert told.run("R5").state == Run.VOID
    assert told.lot("R4.1").code.startswith("S")
    assert told.on_hand("R4.1") == 900 * G
    assert told.lot("R4.heel").machine.name == "extruder"
    assert told.on_hand("R2.1") == 4 * KG
    assert told.on_hand("R2.2") == 0
    assert told.lot("R6.3").form == "flake"
    assert sum(told.composition("R4.1").values()) == 900 * G
    assert told.border("residue") == 30 * G


def test_what_a_service_refuses_is_raised():
    with pytest.raises(Refused, match="Was it all of it"):
        histories.tell("C1: bottles PET 1kg\nR1 sort C1.1 2kg -> clean bottles 1kg")
