"""Cautions to read before work starts, in general words; local codes and manuals come first."""

CAUTIONS: dict[str, str] = {
    "defer": "Local codes, the machine's manual and licensed practice come before anything"
    " written here.",
    "sharp edges": "Cut plastic has sharp edges: wear cut-resistant gloves and eye protection.",
    "moving blades": "Blades and rollers turn on after power is cut. Never reach in, keep hair,"
    " sleeves and cords away, unplug and lock before clearing a jam, and run with guards closed.",
    "dust": "Fines float and can irritate lungs and burn in a cloud: extract at the source, wear a"
    " dust mask, sweep wet, and keep sparks and flames away.",
    "noise": "Shredders are loud: wear hearing protection.",
    "heat": "Barrels, nozzles and dryer walls burn skin and stay hot long after they are switched"
    " off: wear heat-resistant gloves and let no one pass behind the operator.",
    "hot melt": "Melt sticks and burns deep, and may spit when moisture or trapped gas escapes:"
    " wear a face shield, stand aside of the nozzle, never look into it.",
    "fumes": "Hot plastic gives off fumes, more when it is overheated or mixed with another"
    " polymer: extract to the outside and stop when it smells sharp or smokes.",
    "fire": "Never leave a hot machine alone. Keep a fire extinguisher for electrical fires at"
    " hand and the space around it clear.",
    "electricity": "Heaters and motors carry mains voltage: have repairs done by a qualified"
    " person, keep wet hands and wet floors away, and use a residual-current device.",
    "solvents": "Solvents for glue burn and harm: use them outdoors or under extraction, with"
    " suitable gloves, away from heat; warm water and detergent do for most labels.",
    "hygiene": "Bottles come from many hands: wear gloves, keep food away, wash hands; set aside"
    " bottles that held anything but drinks.",
    "wet floor": "Wash water makes floors slippery and electricity dangerous: wipe up, use"
    " a residual-current device.",
    "lifting": "Lift bags over 15 kg with two people or a trolley.",
    "rotating parts": "Winders pull in fingers and cords: stop the winder before touching a spool.",
    "crushing": "Presses and moulds close with great force: keep hands out, use two-hand control or"
    " a guard, and block the press before reaching in.",
    "not for food": "Recycled filament is never for food contact, mouthing toys or medical use.",
}
