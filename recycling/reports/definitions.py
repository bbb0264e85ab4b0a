"""The words of a report, each with what it means."""

from __future__ import annotations

from django.utils.translation import gettext as _

from recycling.calc.reports.diversion import Counter
from recycling.reports.statement import counter_title, counter_words


def definitions() -> tuple[tuple[str, str], ...]:
    """Define what a reader may take in another sense."""
    counters = tuple((counter_title(one), counter_words(one)) for one in Counter)
    return (_of_collecting()[0], *counters, *_of_collecting()[1:], *_of_balancing(), *_of_rates())


def _of_collecting() -> tuple[tuple[str, str], ...]:
    return (
        (
            _("Collection"),
            _("One donation or pick-up of used material, weighed in when it came."),
        ),
        (
            _("Diverted"),
            _(
                "Kept from disposal. The report names which one of the five counters it means."
                " Burning for energy is not diversion."
            ),
        ),
        (
            _("Side stream"),
            _("What is set aside for a use of its own, such as caps of another polymer."),
        ),
        (
            _("Waste"),
            _("What is set aside to be discarded; it is counted as discarded when it leaves."),
        ),
    )


def _of_balancing() -> tuple[tuple[str, str], ...]:
    return (
        (
            _("Measured loss"),
            _("Water, residue, dust or volatiles that were weighed or estimated as such."),
        ),
        (
            _("Unaccounted"),
            _(
                "What remains when outputs and measured losses are taken from inputs, and what"
                " counts of stock found missing. Below zero it is a gain."
            ),
        ),
        (
            _("Between polymers"),
            _(
                "Mass that came in as one polymer and was sorted out as another, such as caps on"
                " bottles. Over all polymers together it is zero."
            ),
        ),
        (
            _("Rounding and traces"),
            _(
                "Parts of lots are whole milligrams, and shares below the workshop's floor are"
                " kept without a name. Over all givers and the rest it is zero."
            ),
        ),
        (
            _("Counted or estimated"),
            _("Not weighed: pieces times the mean mass of a sample, or an estimate."),
        ),
        (
            _("Standard uncertainty"),
            _("One standard deviation (k = 1) of what the true value may be, as in the GUM."),
        ),
        (
            _("± (covers 95 %)"),
            _(
                "The true value lies within it 95 times of 100: k times the standard uncertainty,"
                " k by the degrees of freedom ν and by how its largest parts are distributed."
            ),
        ),
    )


def _of_rates() -> tuple[tuple[str, str], ...]:
    return (
        (
            _("Recycled content"),
            _("Mass of recycled material over mass of the product, as in ISO 14021."),
        ),
        (
            _("Recycling rate"),
            _("Recycled over recycled and disposed mass, as the US EPA defines it."),
        ),
        (
            _("Mass balance"),
            _(
                "A chain of custody by ISO 22095 in which inputs and outputs of a period are"
                " balanced."
            ),
        ),
    )
