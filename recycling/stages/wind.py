"""Wind: filament in coils goes onto spools."""

from recycling.stages.declaration import WASTE, Output, Stage
from recycling.stages.fields import Field
from recycling.stages.groups import usually

STAGE = Stage(
    key="wind",
    title="Wind",
    loss_words="Usually lost in winding",
    summary="Wind coils onto spools and measure the diameter.",
    also=usually("filament"),
    gives=(Output("filament", spool=True), Output("offcuts", (WASTE,))),
    machine="winder",
    spools_by_default=True,
    checks=(
        Field("diameter_mean_mm", "Mean diameter", unit="mm", minimum=0.5, maximum=5),
        Field("diameter_min_mm", "Least diameter", unit="mm", minimum=0.5, maximum=5),
        Field("diameter_max_mm", "Largest diameter", unit="mm", minimum=0.5, maximum=5),
        Field("ovality_mm", "Ovality", unit="mm", minimum=0, maximum=2),
        Field("length_m", "Length", unit="m", minimum=0, maximum=10_000),
    ),
    cautions=("rotating parts", "not for food"),
)
