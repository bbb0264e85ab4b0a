"""A small workshop's flows, invented, for the tests of the drawings."""

from recycling.records.drawings import (
    Bar,
    Bars,
    DrawnFlow,
    DrawnLot,
    DrawnRun,
    FlowNode,
    Flows,
    Lineage,
    Months,
    MonthSeries,
    Step,
    Waterfall,
)

KG = 1_000_000

LOTS = (
    DrawnLot("L1", "bottles", "bottles", 4 * KG),
    DrawnLot("L2", "clean bottles", "clean bottles", 3 * KG),
    DrawnLot("L3", "caps", "caps & rings <mixed>", KG // 2),
    DrawnLot("L4", "reject", "reject", KG // 4, held=True),
    DrawnLot("L5", "heel", "heel", KG // 10),
)
RUNS = (DrawnRun("R1", "sort", "3 May"), DrawnRun("R2", "shred"))
FLOWS = (
    DrawnFlow("L1", "R1", 4 * KG, "input"),
    DrawnFlow("R1", "L2", 3 * KG, "product"),
    DrawnFlow("R1", "L3", KG // 2, "side"),
    DrawnFlow("R1", "L4", KG // 4, "waste"),
    DrawnFlow("L2", "R2", 3 * KG, "input"),
    DrawnFlow("R2", "L5", KG // 10, "heel"),
)
LINEAGE = Lineage("Lineage of L2", "It comes from L1 & nothing else.", LOTS, RUNS, FLOWS, "L2")

SANKEY = Flows(
    "Mass in May",
    "Three quarters became flake.",
    (
        FlowNode("in", "collected"),
        FlowNode("sort", "sorted"),
        FlowNode("flake", "flake", "product"),
        FlowNode("caps", "caps & rings", "side"),
        FlowNode("again", "goes round again", "recirculate"),
        FlowNode("waste", "waste", "waste"),
        FlowNode("water", "water", "loss"),
        FlowNode("heel", "heel", "heel"),
        FlowNode("rest", "unaccounted", "unaccounted"),
    ),
    (
        DrawnFlow("in", "sort", 100 * KG, "input"),
        DrawnFlow("sort", "flake", 75 * KG, "product"),
        DrawnFlow("sort", "caps", 10 * KG, "side"),
        DrawnFlow("sort", "again", 5 * KG, "recirculate"),
        DrawnFlow("sort", "waste", 4 * KG, "waste"),
        DrawnFlow("sort", "water", 3 * KG, "loss"),
        DrawnFlow("sort", "heel", 2 * KG, "heel"),
        DrawnFlow("in", "rest", KG // 2, "unaccounted"),
        DrawnFlow("sort", "rest", KG, "unaccounted"),
    ),
)
BARS = Bars(
    "Stock",
    "Flake leads.",
    (
        Bar("flake", 10 * KG, "product", KG),
        Bar("caps", 5 * KG, "side"),
        Bar("correction", -2 * KG, "unaccounted", KG // 10),
    ),
)
WATERFALL = Waterfall(
    "Sorting",
    "A tenth is caps.",
    (
        Step("collected", 10 * KG, "input", total=True),
        Step("caps", -1 * KG, "side"),
        Step("waste", -3 * KG, "waste"),
        Step("gain", KG // 2, "unaccounted"),
        Step("clean", 13 * KG // 2, "product", total=True),
    ),
)
MONTHS = Months(
    "Output",
    "It doubled.",
    ("May", "June"),
    (
        MonthSeries("filament", "product", (10 * KG, 20 * KG)),
        MonthSeries("waste", "waste", (5 * KG, 0)),
    ),
)
