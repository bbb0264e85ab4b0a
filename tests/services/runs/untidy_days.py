"""Days at an untidy bench: what was done there, and what the book must say of it afterwards.

``unusual`` maps a run to the keys of its deviations, ``lots`` a lot to what is on hand in mg,
``bears`` a lot to the keys that it bears from all that its material went through.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Day:
    story: str
    told: str
    unusual: dict[str, list[str]]
    lots: dict[str, int] = field(default_factory=dict)
    bears: dict[str, list[str]] = field(default_factory=dict)


_FLAKE = "O1: flake PET 5kg\n"
_DRIED = _FLAKE + "R1 dry O1.1 all -> dried flake 4990g, ~water 10g\n"
_HOT = "O2: heel PET 40g in extruder\n"

DAYS = [
    Day(
        "The flake lay open over lunch and was dried once more.",
        _DRIED + "R2 dry R1.1 all -> dried flake 4985g, ~water 5g",
        {"R1": [], "R2": []},
        {"R2.1": 4_985_000},
    ),
    Day(
        "The dryer was broken; the flake went into the extruder as it was.",
        _FLAKE + _HOT + "R1 extrude O1.1 1kg -> filament 900g spool, heel 40g",
        {"R1": ["fed-undried"]},
        {"R1.1": 900_000, "O1.1": 4_000_000},
        {"R1.1": ["fed-undried"]},
    ),
    Day(
        "Undried flake made filament; it was wound, and the spool bears it still.",
        _FLAKE
        + _HOT
        + "R1 extrude O1.1 1kg -> filament 950g, heel 40g\nR2 wind R1.1 all -> filament 940g spool",
        {"R1": ["fed-undried"], "R2": []},
        {"R2.1": 940_000},
        {"R2.1": ["fed-undried"]},
    ),
    Day(
        "A spool printed badly and was dried: the same spool, a little lighter.",
        _DRIED
        + _HOT
        + "R2 extrude R1.1 1kg -> filament 900g spool, heel 40g\n"
        + "R3 dry R2.1 all -> filament 898g spool, ~water 2g",
        {"R2": [], "R3": []},
        {"R3.1": 898_000, "R2.1": 0},
    ),
    Day(
        "A tangled spool was cut up and shredded.",
        "O1: filament PET 800g\nR1 shred O1.1 all -> flake 780g, fines 15g",
        {"R1": []},
        {"R1.1": 780_000},
    ),
    Day(
        "Shredded spools were dried and melted a second and a third time.",
        _DRIED
        + "R2 extrude R1.1 1kg -> filament 950g\nR3 shred R2.1 all -> flake 940g\n"
        + "R4 dry R3.1 all -> dried flake 938g, ~water 2g\nR5 extrude R4.1 all -> filament 900g\n"
        + "R6 shred R5.1 all -> flake 890g\nR7 extrude R6.1 all -> filament 850g spool",
        {"R5": [], "R7": ["fed-undried", "melted-n-times"]},
        {"R7.1": 850_000},
        {"R7.1": ["fed-undried", "melted-n-times"]},
    ),
    Day(
        "Somebody washed the caps of a month.",
        "C1: caps HDPE 2kg\nR1 wash C1.1 all -> caps 2010g, ~water -20g",
        {"R1": []},
        {"R1.1": 2_010_000},
    ),
    Day(
        "Caps were shredded and melted without drying: nothing to say, HDPE takes up no water.",
        "C1: caps HDPE 2kg\nR1 shred C1.1 all -> flake 1980g, fines 10g\n"
        "R2 extrude R1.1 1kg -> filament 950g spool",
        {"R1": [], "R2": []},
        {"R2.1": 950_000},
        {"R2.1": []},
    ),
    Day(
        "Rings and caps of two polymers went through the shredder together.",
        "C1: caps PP 1kg; rings HDPE 200g\nR1 shred C1.1 all, C1.2 all -> flake 1190g",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 1_190_000},
        {"R1.1": ["polymers-mixed"]},
    ),
    Day(
        "Mixed caps were pressed into a board.",
        "C1: caps PP 1kg; caps HDPE 1kg\nR1 shape C1.1 all, C1.2 all -> product 1950g",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 1_950_000},
    ),
    Day(
        "Bottles were shredded with everything on; nobody had time to sort.",
        "C1: bottles PET 3kg\nR1 shred C1.1 all -> flake 2950g, fines 30g",
        {"R1": ["form-unusual"]},
        {"R1.1": 2_950_000},
        {"R1.1": ["form-unusual"]},
    ),
    Day(
        "Flake looked dirty and was sorted by hand, though sorting is for bottles.",
        _FLAKE + "R1 sort O1.1 1kg -> flake 950g returned, reject PET 45g",
        {"R1": ["form-unusual"]},
        {"O1.1": 4_000_000, "R1.1": 950_000, "R1.2": 45_000},
    ),
    Day(
        "Cut pieces fell on the floor and were washed.",
        "O1: cut pieces PET 2kg\nR1 wash O1.1 all -> cut pieces 2040g, ~water -45g, ~residue 5g",
        {"R1": []},
        {"R1.1": 2_040_000},
    ),
    Day(
        "Dried flake was rinsed once more by mistake and fed wet.",
        _DRIED + "R2 wash R1.1 1kg -> dried flake 1100g, ~water -105g\n"
        "R3 extrude R2.1 1kg -> filament 900g spool",
        {"R2": ["form-unusual"], "R3": ["fed-undried"]},
        {"R3.1": 900_000},
        {"R3.1": ["fed-undried", "form-unusual"]},
    ),
    Day(
        "The hopper was half full at the end; the rest went back into a bag.",
        _DRIED + _HOT + "R2 extrude R1.1 2kg -> filament 1.2kg spool, dried flake 700g returned,"
        " heel 40g",
        {"R2": []},
        {"R1.1": 2_990_000, "R2.1": 1_200_000, "R2.2": 700_000},
    ),
    Day(
        "The bag that came back was fed the next day: it was dry, and was never melted.",
        _DRIED + "R2 extrude R1.1 2kg -> filament 1.2kg spool, dried flake 700g returned\n"
        "R3 extrude R2.2 all -> filament 650g spool",
        {"R3": []},
        {"R3.1": 650_000},
    ),
    Day(
        "A whole bag was carried to the shredder and not needed.",
        "O1: clean bottles PET 2kg, 1kg\nR1 shred O1.1 all, O1.2 all -> flake 1990g,"
        " clean bottles 1kg returned",
        {"R1": []},
        {"R1.1": 1_990_000, "R1.2": 1_000_000},
    ),
    Day(
        "Oversize was thrown into the wash tub.",
        "O1: oversize PET 400g\nR1 wash O1.1 all -> oversize 420g, ~water -22g",
        {"R1": ["form-unusual"]},
        {"R1.1": 420_000},
    ),
    Day(
        "Fines were pressed into a coaster, undried.",
        "O1: fines PET 300g\nR1 shape O1.1 all -> product 290g",
        {"R1": ["fed-undried", "form-unusual"]},
        {"R1.1": 290_000},
        {"R1.1": ["fed-undried", "form-unusual"]},
    ),
    Day(
        "A spool was printed into twelve hooks.",
        "O1: filament PET 800g\nR1 shape O1.1 300g -> product 280g, start-up scrap 15g",
        {"R1": ["fed-undried"]},
        {"R1.1": 280_000, "O1.1": 500_000},
    ),
    Day(
        "PET and PP flake were blended; the dried blend was melted all the same.",
        "O1: flake PET 1kg; flake PP 100g\nR1 blend O1.1 all, O1.2 all -> flake 1100g\n"
        "R2 dry R1.1 all -> dried flake 1095g, ~water 5g\n"
        "R3 extrude R2.1 all -> filament 1kg spool",
        {"R1": ["polymers-mixed"], "R2": [], "R3": []},
        {"R3.1": 1_000_000},
        {"R3.1": ["polymers-mixed"]},
    ),
    Day(
        "The same blend was fed undried: one of its polymers must be dry.",
        "O1: flake PET 1kg; flake PP 100g\nR1 blend O1.1 all, O1.2 all -> flake 1100g\n"
        "R3 extrude R1.1 all -> filament 1kg spool",
        {"R3": ["fed-undried"]},
        {"R3.1": 1_000_000},
        {"R3.1": ["fed-undried", "polymers-mixed"]},
    ),
    Day(
        "PLA went into the barrel after PET without a purge, in one run.",
        "O1: dried flake PET 500g; dried flake PLA 500g\n"
        "R1 extrude O1.1 all, O1.2 all -> filament 600g spool, changeover scrap 300g mixed",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 600_000, "R1.2": 300_000},
        {"R1.1": ["polymers-mixed"]},
    ),
    Day(
        "Milk bottles came with caps of their own polymer.",
        "C1: bottles HDPE 2kg\nR1 sort C1.1 all -> clean bottles 1.8kg, caps HDPE 150g",
        {"R1": ["polymer-unusual"]},
        {"R1.1": 1_800_000, "R1.2": 150_000},
    ),
    Day(
        "A bag of all sorts was sorted into two polymers.",
        "C1: bottles mixed 3kg\nR1 sort C1.1 all -> clean bottles PET 2kg, clean bottles PP 700g,"
        " reject mixed 200g",
        {"R1": []},
        {"R1.1": 2_000_000, "R1.2": 700_000, "R1.3": 200_000},
    ),
    Day(
        "Two bags of two polymers were sorted in one go.",
        "C1: bottles PET 2kg; bottles HDPE 1kg\n"
        "R1 sort C1.1 all, C1.2 all -> clean bottles PET 1.9kg, clean bottles HDPE 950g",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 1_900_000, "R1.2": 950_000},
    ),
    Day(
        "A spool came out so bad that all of it was waste.",
        _DRIED + "R2 extrude R1.1 1kg -> filament 950g waste\nR3 discard R2.1 all",
        {"R2": []},
        {"R2.1": 0},
    ),
    Day(
        "Start-up scrap was fed straight back, as it came out of the nozzle.",
        _DRIED + "R2 extrude R1.1 1kg -> filament 800g spool, start-up scrap 150g\n"
        "R3 extrude R2.2 all, R1.1 1kg -> filament 1050g spool",
        {"R3": ["fed-undried", "form-unusual"]},
        {"R3.1": 1_050_000},
    ),
    Day(
        "An open run: undried flake was added in the evening, and it shows while it goes on.",
        _DRIED
        + "C2: flake PET 1kg\nopen R2 extrude R1.1 500g\nR2 gives filament 400g spool\n"
        + "R2 draws C2.1 300g\nclose R2 -> filament 350g spool, heel 30g",
        {"R2": ["fed-undried"]},
        {"R2.1": 400_000, "R2.2": 350_000},
        {"R2.2": ["fed-undried"]},
    ),
    Day(
        "An open run: another polymer was thrown in half way, and some was taken out again.",
        "C1: flake PP 1kg; flake HDPE 1kg\nopen R1 extrude on extruder: C1.1 500g\n"
        "R1 gives filament 300g spool\nR1 draws C1.2 400g\n"
        "R1 gives flake HDPE 100g returned\nclose R1 -> filament 450g spool",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 300_000, "R1.2": 100_000, "R1.3": 450_000},
        {"R1.3": ["polymers-mixed"]},
    ),
    Day(
        "The draw of undried flake was a slip: once it is put right, nothing deviates.",
        _DRIED
        + "C2: flake PET 1kg\nR2 extrude R1.1 500g, C2.1 300g -> filament 700g spool\n"
        + "correct R2 draw C2.1 0g",
        {"R2": []},
        {"C2.1": 1_000_000},
        {"R2.1": []},
    ),
    Day(
        "An extrusion of undried flake was voided: the spool is gone, and so is what was said.",
        _FLAKE + "R1 extrude O1.1 1kg -> filament 900g spool\nvoid R1",
        {"R1": []},
        {"O1.1": 5_000_000, "R1.1": 0},
    ),
    Day(
        "Virgin pellets of PLA were fed from the sack.",
        "P1: pellets PLA 1kg\nR1 extrude P1.1 500g -> filament 480g spool",
        {"R1": ["fed-undried"]},
        {"R1.1": 480_000},
    ),
    Day(
        "Pellets of a polymer of which nothing is known were fed: nothing is claimed.",
        "P1: pellets PBT 1kg\nR1 extrude P1.1 500g -> filament 480g spool",
        {"R1": []},
        {"R1.1": 480_000},
    ),
    Day(
        "Purge compound was tipped into the blend by mistake.",
        "O1: flake PET 1kg; purge compound purge 100g\nR1 blend O1.1 all, O1.2 all -> flake 1090g",
        {"R1": ["polymers-mixed"]},
        {"R1.1": 1_090_000},
    ),
]
