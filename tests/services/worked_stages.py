"""One worked history for each stage: what it tells, and what must be so afterwards (in mg).

``lots`` maps a lot's name to what is on hand, ``borders`` a border account and polymer to what
crossed it, all from the arithmetic in the margin. A new stage adds its own line here.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Worked:
    told: str
    lots: dict[str, int]
    borders: dict[tuple[str, str], int] = field(default_factory=dict)


_BOTTLES = "C1: bottles PET 5kg, 3kg\n"
_CLEAN = "O1: clean bottles PET 2kg\n"
_FLAKE = "O1: flake PET 2kg, 1kg\n"

WORKED: dict[str, Worked] = {
    "receive": Worked(
        "C1: bottles PET 5kg, 3kg; bottles HDPE 200g",
        {"C1.1": 5_000_000, "C1.2": 3_000_000, "C1.3": 200_000},
        {("received", "PET"): -8_000_000, ("received", "HDPE"): -200_000},
    ),
    "sort": Worked(  # 4900 - 4500 - 300 - 25 - 20 = 55 g unaccounted
        _BOTTLES + "R1 sort C1.1 4.9kg -> clean bottles 4.5kg, caps HDPE 300g,"
        " labels PP 25g, ~residue 20g",
        {"C1.1": 100_000, "R1.1": 4_500_000, "R1.2": 300_000, "R1.3": 25_000},
        {("residue", "PET"): 20_000, ("unaccounted", "PET"): 55_000},
    ),
    "wash": Worked(  # 2000 - 2010 - 30 + 45 = 5 g unaccounted: it took up 45 g of water
        _CLEAN + "R1 wash O1.1 all -> clean bottles 2010g, ~residue 30g, ~water -45g",
        {"O1.1": 0, "R1.1": 2_010_000},
        {("water", "PET"): -45_000, ("residue", "PET"): 30_000, ("unaccounted", "PET"): 5_000},
    ),
    "cut": Worked(
        _CLEAN + "R1 cut O1.1 2kg -> cut pieces 1.8kg, offcuts 190g, ~dust 10g",
        {"R1.1": 1_800_000, "R1.2": 190_000},
        {("dust", "PET"): 10_000, ("unaccounted", "PET"): 0},
    ),
    "shred": Worked(  # the oversize goes round again
        _CLEAN + "R1 shred O1.1 2kg -> flake 1.5kg, oversize 450g, fines 30g, ~dust 5g\n"
        "R2 shred R1.2 all -> flake 440g, fines 10g",
        {"R1.1": 1_500_000, "R1.2": 0, "R2.1": 440_000, "R2.2": 10_000},
        {("dust", "PET"): 5_000, ("unaccounted", "PET"): 15_000},
    ),
    "screen": Worked(
        _FLAKE + "R1 screen O1.1 2kg -> flake 1.7kg, oversize 200g, fines 90g",
        {"R1.1": 1_700_000, "R1.2": 200_000, "R1.3": 90_000},
        {("unaccounted", "PET"): 10_000},
    ),
    "dry": Worked(
        _FLAKE + "R1 dry O1.1 2kg -> dried flake 1992g, ~water 7g",
        {"R1.1": 1_992_000},
        {("water", "PET"): 7_000, ("unaccounted", "PET"): 1_000},
    ),
    "blend": Worked(
        _FLAKE + "R1 blend O1.1 1.5kg, O1.2 all -> flake 2.5kg",
        {"O1.1": 500_000, "O1.2": 0, "R1.1": 2_500_000},
        {("unaccounted", "PET"): 0},
    ),
    "extrude": Worked(  # 40 + 1000 + 200 - 900 - 150 - 60 - 3 = 127 g unaccounted
        "O1: heel HDPE 40g in extruder; dried flake PET 1kg; purge compound purge 200g\n"
        "R1 extrude O1.2 1kg, O1.3 200g -> filament 900g spool, changeover scrap 150g HDPE,"
        " ~volatiles 3g, heel 60g",
        {"O1.1": 0, "R1.1": 900_000, "R1.2": 150_000, "R1.heel": 60_000},
        {("volatiles", "PET"): 3_000, ("unaccounted", "PET"): 127_000},
    ),
    "wind": Worked(
        "O1: filament PET 1kg\nR1 wind O1.1 1kg -> filament 750g spool, filament 240g spool,"
        " offcuts 10g",
        {"R1.1": 750_000, "R1.2": 240_000, "R1.3": 10_000},
        {("unaccounted", "PET"): 0},
    ),
    "shape": Worked(  # 500 - 440 - 30 - 1 - 20 = 9 g unaccounted; the last 20 g came back
        "O1: dried flake PET 1kg\nR1 shape O1.1 500g -> product 440g, offcuts 30g,"
        " ~volatiles 1g, dried flake 20g",
        {"O1.1": 500_000, "R1.1": 440_000, "R1.2": 30_000, "R1.3": 20_000},
        {("volatiles", "PET"): 1_000, ("unaccounted", "PET"): 9_000},
    ),
    "dispatch": Worked(
        "O1: filament PET 1kg; caps HDPE 2kg\nR1 dispatch O1.1 all, O1.2 500g",
        {"O1.1": 0, "O1.2": 1_500_000},
        {("dispatched", "PET"): 1_000_000, ("dispatched", "HDPE"): 500_000},
    ),
    "discard": Worked(
        "O1: reject PET 1kg\nR1 discard O1.1 400g",
        {"O1.1": 600_000},
        {("discarded", "PET"): 400_000},
    ),
    "count": Worked(
        _FLAKE + "count R1: O1.1 1990g, O1.2 1005g",
        {"O1.1": 1_990_000, "O1.2": 1_005_000},
        {("unaccounted", "PET"): 5_000},
    ),
}
