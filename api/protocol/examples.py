"""Bodies to start from, one or more for each kind of request, in an invented workshop."""

from __future__ import annotations

from typing import Any

from api.protocol.change_examples import CHANGE_EXAMPLES
from api.protocol.report_examples import REPORT_EXAMPLES

EXAMPLES: dict[str, dict[str, dict[str, Any]]] = {
    **REPORT_EXAMPLES,
    **CHANGE_EXAMPLES,
    "ImportBody": {
        "two bags of one collection": {
            "text": "at,source,polymer,mass\n2026-05-04T09:30+02:00,Corner shop,PET,4.31 kg\n"
            "2026-05-04T09:30+02:00,Corner shop,HDPE,200 g\n",
        }
    },
    "ArchiveEntry": {"with the names of members": {"people": True}},
    "MachineChange": {"brought back": {"retired": False, "note": "new screw"}},
    "ScaleChange": {"checked": {"checked_date": "2024-05-03"}},
    "ContainerChange": {"weighed again": {"tare_mg": 1262000}},
    "WorkshopChange": {"another name": {"name": "Mill Workshop", "zone": "Europe/Lisbon"}},
    "MemberChange": {"another role": {"new_role": "viewer"}, "gone": {"active": False}},
    "CollectionBody": {
        "two bags from a school": {
            "source": "Hillside School",
            "collected_at": "2024-05-06T09:30:00+02:00",
            "programme": "Spring drive",
            "bags": [
                {"polymer": "PET", "colour": "clear", "mass_mg": 12400000, "scale": "floor scale"},
                {"polymer": "PET", "gross": "9.120 kg", "tare": "120 g", "count": 290},
            ],
        }
    },
    "PurchaseBody": {
        "purge compound": {
            "purchased_at": "2024-05-02T11:00:00+02:00",
            "supplier": "Harbour Plastics",
            "document": "DN 5521",
            "bags": [{"form": "purge compound", "polymer": "purge", "mass": "25 kg"}],
        }
    },
    "OpeningBody": {
        "the first heel of an extruder": {
            "counted_at": "2024-05-01T08:00:00+02:00",
            "bags": [
                {
                    "form": "heel",
                    "polymer": "PET",
                    "mass_mg": 310000,
                    "machine": "extruder 1",
                    "how": "estimated",
                },
            ],
        }
    },
    "RunBody": {
        "sorting, recorded whole": {
            "stage": "sort",
            "started_at": "2024-05-06T10:00:00+02:00",
            "ended_at": "2024-05-06T11:15:00+02:00",
            "inputs": [{"lot": "L345-L", "all": True}],
            "outputs": [
                {"form": "clean bottles", "mass": "11.310 kg"},
                {"form": "caps", "polymer": "HDPE", "mass_mg": 640000},
                {"form": "labels", "polymer": "PP", "mass_mg": 180000},
            ],
            "losses": [{"account": "residue", "mass_mg": 150000, "how": "drink poured out"}],
            "checks": [{"key": "adhesive_method", "value": "warm water"}],
        },
        "extrusion that begins": {
            "stage": "extrude",
            "state": "open",
            "machine": "extruder 1",
            "started_at": "2024-05-08T09:00:00+02:00",
            "inputs": [{"lot": "L345-L", "mass": "5 kg"}],
            "settings": [{"key": "zone_1_c", "value": 262}],
        },
        "a stock count": {
            "stage": "count",
            "started_at": "2024-05-31T17:00:00+02:00",
            "ended_at": "2024-05-31T17:30:00+02:00",
            "counts": [{"lot": "L345-L", "mass_mg": 0}],
        },
    },
    "DrawBody": {"five kilograms": {"lot": "L345-L", "mass": "5 kg"}},
    "OutputBody": {
        "a spool": {
            "form": "filament",
            "mass_mg": 1000000,
            "spool": {"diameter_mm": 1.75, "tolerance_mm": 0.05, "tare": "212 g"},
        }
    },
    "LossBody": {"dust": {"account": "dust", "mass_mg": 12000, "how": "filter weighed"}},
    "SettingBody": {
        "hotter": {"key": "zone_1_c", "value": 265, "seen": "flow became even"},
    },
    "CheckBody": {"largest particle": {"key": "largest_mm", "value": 3.2}},
    "CloseBody": {
        "with the heel that stays": {
            "ended_at": "2024-05-08T12:40:00+02:00",
            "heel": {"mass": "310 g"},
        }
    },
    "ReasonBody": {"a reason": {"reason": "The wrong lot was scanned."}},
    "CorrectionBody": {
        "a tare that was forgotten": {"mass": "9 kg", "reason": "The tare was not taken off."}
    },
    "HoldBody": {
        "with all that descends": {
            "reason": "Smells of solvent; wait for a test.",
            "with_descendants": True,
        }
    },
    "LotEventBody": {
        "moved": {
            "kind": "moved",
            "happened_at": "2024-05-09T16:00:00+02:00",
            "place": "dry cabinet",
        }
    },
    "VerdictBody": {
        "a bad spool": {"good": False, "defects": ["clogged nozzle"], "note": "after 40 g"}
    },
    "ReadingsBody": {
        "two readings of an oven's meter": {
            "machine": "oven",
            "kind": "counter",
            "readings": [
                {"at": "2024-05-08T08:00:00+02:00", "reading": 1042.6},
                {"at": "2024-05-08T13:10:00+02:00", "reading": 1045.9},
            ],
        },
        "power from a plug": {
            "machine": "oven",
            "kind": "power",
            "max_gap_s": 120,
            "readings": [
                {"at": "2024-05-08T08:00:00+02:00", "reading": 812.5},
                {"at": "2024-05-08T08:01:00+02:00", "reading": 790},
            ],
        },
    },
    "SourceEntry": {"a school": {"name": "Hillside School", "kind": "school"}},
    "ProgrammeEntry": {
        "a grant": {
            "name": "Spring drive",
            "funder": "town council",
            "starts_date": "2024-03-01",
            "ends_date": "2024-06-30",
            "target": "500 kg",
        }
    },
    "MachineEntry": {"an extruder": {"name": "extruder 1", "kind": "extruder"}},
    "ScaleEntry": {
        "a floor scale": {"name": "floor scale", "interval": "5 g", "capacity": "15 kg"}
    },
    "ContainerEntry": {"a crate": {"name": "blue crate", "tare": "1.2 kg"}},
    "PolymerEntry": {"PET": {"code": "rPET", "name": "recycled PET", "resin_code": 1}},
    "KeyEntry": {"a scale's key": {"label": "floor scale", "scope": "record", "days": 180}},
    "SuspectsBody": {
        "everything that was judged": {},
        "what made spools brittle in May": {
            "defects": ["brittle"],
            "polymer": "PET",
            "from": "2024-05-01T00:00:00+02:00",
            "to": "2024-06-01T00:00:00+02:00",
            "kinds": ["origin", "lot", "run"],
            "priors": {"cause_probability": 0.4, "full_share": 0.2},
        },
    },
    "FindingBody": {
        "kept for the meeting": {"title": "Brittle spools of May", "defects": ["brittle"]},
    },
    "SampleEntry": {
        "four half-litre bottles": {
            "name": "half litre, clear",
            "masses_mg": [24_100, 25_800, 25_000, 24_900],
            "taken_date": "2024-05-03",
        }
    },
    "ModelBody": {
        "refills were noted": {
            "composition_model": "feed order",
            "reason": "refills were noted with their times",
        }
    },
    "ReconciliationEntry": {
        "a quarter": {"start": "2024-04-01T00:00:00+02:00", "end": "2024-07-01T00:00:00+02:00"}
    },
    "ParticlesBody": {"a handful of flake": {"sizes_mm": [2.1, 3.4, 2.8, 3.9, 1.7, 4.3]}},
    "FilamentBody": {
        "three places, along both axes": {
            "first_mm": [1.74, 1.76, 1.75],
            "second_mm": [1.75, 1.73, 1.76],
            "length_m": 330,
            "measured_at": "2024-05-08T15:20:00+02:00",
        }
    },
    "ChangeoverBody": {
        "to another polyester": {
            "after": "PLA",
            "start_c": 265,
            "target_c": 205,
            "residue_percent": 0.5,
            "at": "2024-05-08T15:20:00+02:00",
        }
    },
    "UsedBody": {
        "until it ran clean": {
            "purge_used": "235 g",
            "flush_used_mg": 180000,
            "seen": "grey streaks until the last 40 g",
        }
    },
    "PracticeEntry": {
        "a longer wait": {"key": "wait_min", "value": 15, "source": "own trials, 2024-04-18"}
    },
    "WindowEntry": {
        "a purge compound": {
            "material": "bridge",
            "kind": "purge compound",
            "low_c": 175,
            "high_c": 310,
            "source": "data sheet of 2024-02-11",
        }
    },
    "MaterialEntry": {
        "a drying recipe": {
            "polymer": "PET",
            "kind": "drying",
            "values": {"least_c": 135, "most_c": 155, "time_h": 5.5},
            "source": "own trials, 2024-04-18",
        }
    },
    "MeterBody": {"its plate": {"class_percent": 1, "step_kwh": 0.1, "source": "its plate"}},
    "EnergyFileBody": {
        "a morning of a plug": {
            "machine": 4,
            "name": "oven.csv",
            "zone": "Europe/Lisbon",
            "text": "time;power_w\n2024-05-08 08:10:00;640\n2024-05-08 08:11:00;655\n",
        }
    },
    "BarrelBody": {
        "weighed after a strip": {"holdup_g": 48.5, "source": "weighed after a strip, 2024-03-21"}
    },
    "PartBody": {
        "a heater": {
            "name": "heater band",
            "kind": "heater",
            "rated_w": 850,
            "duty_percent": 60,
            "source": "its plate; share by the controller's display",
        }
    },
    "TimeBody": {
        "a morning": {
            "started_at": "2024-05-08T08:10:00+02:00",
            "ended_at": "2024-05-08T12:40:00+02:00",
        }
    },
    "PhaseBody": {
        "before a run": {
            "kind": "warm-up",
            "started_at": "2024-05-08T08:10:00+02:00",
            "ended_at": "2024-05-08T09:00:00+02:00",
        }
    },
    "ReadingBody": {
        "in the evening": {"reading_kwh": 1048.3, "read_at": "2024-05-08T17:30:00+02:00"}
    },
    "PartNowBody": {"switched on": {"on": True}},
    "PhaseNowBody": {"warming up": {"kind": "warm-up"}},
    "TakeBackBody": {
        "read off wrongly": {"kind": "reading", "reason": "Read off the other meter."}
    },
    "TariffEntry": {
        "from the contract": {
            "price_per_kwh": 0.31,
            "currency": "EUR",
            "source": "contract of the workshop, page 2",
            "read_date": "2024-04-30",
            "valid_from": "2024-05-01",
        }
    },
    "FactorEntry": {
        "as the supplier states it": {
            "value": 212,
            "unit": "g/kWh",
            "scope": "generation only",
            "region": "the supplier's mix",
            "year": 2023,
            "publisher": "Valley Power, statement of sources 2023",
            "read_date": "2024-04-30",
            "valid_from": "2024-05-01",
        }
    },
}
