"""Components: documented, small, translated, nothing inline, and joined up by their ids."""

import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django import forms
from django.template import Context, Engine
from django.test import RequestFactory

from recycling.records.balance.covered import Covered

ROOT = Path(__file__).parents[2]
TEMPLATES = ROOT / "templates"
COMPONENTS = sorted((TEMPLATES / "components").glob("*.html"))
OWN = [*COMPONENTS, TEMPLATES / "base.html", TEMPLATES / "pages" / "legend.html"]
DOCS = (ROOT / "docs" / "reference" / "components.md").read_text(encoding="utf-8")
INSIDE = {
    *("head_name", "who", "nav", "nav_item", "messages", "sign", "theme"),
    *("field_notes", "error_lines", "table", "panel", "group", "chart_scripts"),
}
"""Parts of other components and of the page, which no page includes by itself."""

every = pytest.mark.parametrize("path", OWN, ids=lambda path: path.stem)


class Weighing(forms.Form):
    gross = forms.CharField(label="Gross", help_text="What the scale shows.")
    tare = forms.CharField(label="Tare", required=False)
    scale = forms.ChoiceField(
        label="Scale", widget=forms.RadioSelect, choices=[("a", "Bench"), ("b", "Floor")]
    )
    rinsed = forms.BooleanField(label="Rinsed", required=False)


class Page(HTMLParser):
    """The elements of a page, each with its attributes."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.text = [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text += data

    def values(self, name):
        return [attrs[name] for _, attrs in self.elements if name in attrs]


def engine():
    return Engine(
        dirs=[TEMPLATES],
        libraries={
            "i18n": "django.templatetags.i18n",
            "static": "django.templatetags.static",
            "tz": "django.templatetags.tz",
        },
        builtins=[
            "recycling.web.templatetags.ledger",
            "recycling.web.templatetags.look",
            "recycling.web.templatetags.covered",
        ],
    )


def render(name, **context):
    return Page(engine().get_template(f"components/{name}.html").render(Context(context)))


def render_text(source, **context):
    return Page(engine().from_string(source).render(Context(context)))


@every
def test_it_is_small(path):
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= (40 if path.parent.name == "components" else 120)


@every
def test_it_has_nothing_inline(path):
    text = re.sub(r"{[%#].*?[%#]}", "", path.read_text(encoding="utf-8"), flags=re.S)
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:|hx-on|js:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"(src|href)=[\"']?(https?:)?//", text)


@every
def test_every_word_can_be_translated(path):
    text = path.read_text(encoding="utf-8").replace("Regrind Ledger", "")
    text = re.sub(r"{%-? blocktranslate.*?endblocktranslate %}", "", text, flags=re.S)
    text = re.sub(r"{#.*?#}|{%.*?%}|{{.*?}}", "", text, flags=re.S)
    words = re.sub(r"<[^>]*>|&[a-z]+;", "", text)
    assert not re.findall(r"[A-Za-z]{2,}", words)
    spoken = re.findall(r'(?:aria-label|alt|title|placeholder)="([^"]*)"', text)
    assert not [name for name in spoken if re.search(r"[A-Za-z]{2,}", name)]


@pytest.mark.parametrize("path", COMPONENTS, ids=lambda path: path.stem)
def test_it_is_documented(path):
    if path.stem not in INSIDE:
        assert f"`components/{path.name}`" in DOCS or f"components/{path.name}" in DOCS


def test_every_documented_component_exists():
    named = set(re.findall(r"components/([a-z_]+)\.html", DOCS))
    assert named and named <= {path.stem for path in COMPONENTS}


def test_every_state_role_and_hazard_is_documented():
    from recycling.figures.shapes import HAZARDS, LINES, STATES

    for key in {*STATES, *LINES, *HAZARDS} - {"other"}:
        assert re.search(rf"\b{key}\b", DOCS), key


def test_a_field_points_to_its_hint_and_error():
    form = Weighing({"gross": "", "scale": "a"})
    form.is_valid()
    page = render("field", field=form["gross"], unit="kg", size="mass")
    ids = page.values("id")
    (described,) = page.values("aria-describedby")
    assert set(described.split()) == {"id_gross_helptext", "id_gross_error"} <= set(ids)
    assert page.values("for") == ["id_gross"] and page.text.split()[:1] == ["Gross,"]
    assert page.text.index("What the scale shows.") < page.text.index("Error:")


def test_a_field_that_may_be_left_out_says_so():
    assert "may be left out" in render("field", field=Weighing()["tare"]).text
    assert "may be left out" not in render("field", field=Weighing()["gross"]).text


def test_radios_are_a_fieldset_with_a_legend():
    page = render("field", field=Weighing()["scale"])
    tags = [tag for tag, _ in page.elements]
    assert tags.index("fieldset") < tags.index("legend") < tags.index("input")
    assert page.values("for") == ["id_scale_0", "id_scale_1"]


def test_each_line_of_the_error_summary_leads_to_a_field_that_is_there():
    form = Weighing({})
    form.is_valid()
    summary = render("error_summary", form=form)
    targets = {href.removeprefix("#") for href in summary.values("href")}
    ids = {name for field in form for name in render("field", field=field).values("id")}
    assert targets and targets <= ids
    assert "autofocus" in dict(summary.elements[0][1])


def test_the_error_summary_stands_only_when_something_is_wrong():
    assert not render("error_summary", form=Weighing()).elements
    page = render("error_summary", refusals=[{"text": "On hold.", "url": "/l/", "url_label": "L"}])
    assert "On hold." in page.text and page.values("href") == ["/l/"]


def test_rows_of_a_formset_are_named_in_the_error_summary():
    bags = forms.formset_factory(Weighing, extra=2)
    data = {"form-TOTAL_FORMS": "2", "form-INITIAL_FORMS": "0", "form-1-tare": "1 kg"}
    formset = bags(data)
    formset.is_valid()
    page = render("error_summary", formset=formset)
    assert "Row 2:" in page.text and "#id_form-1-gross" in page.values("href")


def test_the_net_knows_its_two_fields():
    form = Weighing()
    tares = [{"label": "Crate", "mass_text": "1.240 kg"}]
    page = render("net_mass", gross=form["gross"], tare=form["tare"], tares=tares)
    ids = page.values("id")
    for name in ("data-gross", "data-tare", "data-fill"):
        assert page.values(name)[0] in ids
    assert page.values("data-value") == ["1.240 kg"]


def test_a_mass_shows_unit_uncertainty_and_how_it_is_known():
    sure = Covered(2_000.0, 1_000.0, 2.0, 18.0, ("83 % of it from the mean of a sample",))
    page = render("mass", mass_mg=4_310_000, covered=sure, how="weighed")
    said = "k = 2.00, ν = 18; 83 % of it from the mean of a sample"
    assert " ".join(page.text.split()) == f"4.310 kg weighed ± 2.0 g {said}"
    assert "±" not in render("mass", mass_mg=1, covered=None).text


@pytest.mark.parametrize(
    "mass_mg, text",
    [
        (0, "0.00 g"), (7, "0.007 g"), (350, "0.35 g"), (38_500, "38.5 g"), (212_000, "212 g"),
        (999_499, "999 g"), (999_500, "1.000 kg"), (1_000_000, "1.000 kg"),
        (-4_310_400, "−4.310 kg"),
        (12_345_678_900, "12,345.679 kg"), (None, "–"),
    ],
)  # fmt: skip
def test_masses_are_written_with_the_unit_that_reads_best(mass_mg, text):
    from recycling.web.templatetags.look import mass_text

    assert mass_text(mass_mg).replace("\u00a0", " ") == text


def test_figures_follow_the_locale():
    from django.utils.translation import override

    from recycling.web.templatetags.look import kg, mass_text

    with override("de"):
        assert (mass_text(4_310_000), kg(1_234_567_890)) == ("4,310\u00a0kg", "1.234,568")


@pytest.mark.parametrize(
    "u_mass_mg, text", [(2_000, "2.0 g"), (350, "0.35 g"), (35_400, "35 g"), (1_200_000, "1.2 kg")]
)
def test_uncertainties_have_two_significant_digits(u_mass_mg, text):
    from recycling.web.templatetags.look import uncertainty_text

    assert uncertainty_text(u_mass_mg).replace("\u00a0", " ") == text


def test_a_lot_chip_says_code_and_form_in_words():
    page = render("lot_chip", lot={"code": "L-1", "form": "clean bottles", "url": "/l/"})
    assert " ".join(page.text.split()) == "L-1 clean bottles"
    assert page.elements[0][0] == "a"
    assert page.values("href")[1].endswith("#form-clean-bottles")
    assert render("lot_chip", lot={"code": "L-1", "form": "caps"}).elements[0][0] == "span"


def test_a_state_is_a_word_and_a_sign_and_an_unknown_one_still_says_its_word():
    page = render("state_word", state="held")
    assert page.text.strip() == "on hold" and page.values("href")[0].endswith("#sign-held")
    page = render("state_word", state="far_away")
    assert page.text.strip() == "far away" and page.values("href")[0].endswith("#sign-other")


def test_cautions_always_defer_to_local_codes():
    page = render("cautions", cautions=[{"hazard": "heat", "text": "Hot."}, "Lift with two."])
    assert "Heat. Hot." in " ".join(page.text.split()) and "Lift with two." in page.text
    assert "Local codes" in page.text and "licensed practice" in page.text


def test_timers_say_the_time_without_script():
    at = datetime(2026, 5, 14, 14, 10, tzinfo=UTC)
    page = render("timer", label="Dryer", until_at=at)
    assert page.values("datetime") == ["2026-05-14T14:10:00+00:00"] and "at 14:10" in page.text
    assert render("clock", label="Run", since_at=at).values("datetime") == page.values("datetime")


def test_a_figure_has_its_finding_its_table_and_its_csv():
    figure = {
        "key": "stock", "title": "Stock", "finding": "Flake leads.", "svg": "<svg></svg>",
        "record": True, "explored": {"data": [], "layout": {"title": "</script>"}},
        "columns": ["form", "kg"], "rows": [("flake", "1.000")], "csv_url": "/stock.csv",
    }  # fmt: skip
    request = RequestFactory().get("/", {"from": "2026-05-01"})
    plain = render("figure", figure=figure, request=request)
    assert not plain.values("data-chart")
    assert "?from=2026-05-01&explore=stock#stock" in plain.values("href")
    request = RequestFactory().get("/", {"explore": "stock"})
    page = render("figure", figure=figure, request=request)
    assert "Flake leads." in page.text and "1.000" in page.text
    assert page.values("data-chart") == ["stock-data"] and "stock-data" in page.values("id")
    assert "/stock.csv" in page.values("href")
    assert [attrs for tag, attrs in page.elements if tag == "script"] == [
        {"id": "stock-data", "type": "application/json"}
    ]


def test_block_tags_wrap_what_is_inside_and_escape_their_titles():
    page = render_text(
        "{% ledger_table caption='A & B' csv_url='/x' %}<tr><td>1</td></tr>{% end_ledger_table %}"
        "{% panel title=title tone='warn' %}<p>in</p>{% end_panel %}"
        "{% group legend='G' %}<p>{{ title }}</p>{% end_group %}",
        title="<i>",
    )
    tags = [tag for tag, _ in page.elements]
    assert {"table", "caption", "td", "section", "fieldset", "legend"} <= set(tags)
    assert "i" not in tags and page.text.count("<i>") == 2
    assert page.values("data-tone") == ["warn"]


def test_the_page_has_a_way_past_the_header_and_one_main():
    page = Page(engine().get_template("base.html").render(Context({})))
    assert [tag for tag, _ in page.elements].count("main") == 1
    assert "#main" in page.values("href") and "main" in page.values("id")
    assert "status" in page.values("role")
    assert "never for food contact" in page.text
    assert [attrs.get("lang") for tag, attrs in page.elements if tag == "html"] == ["en"]


def test_a_gain_has_a_minus_sign_and_no_hyphen():
    from recycling.web.templatetags.look import kg, mass_text

    assert (kg(-30_000), mass_text(-30_000)) == ("−0.030", "−30.0\u00a0g")


@pytest.mark.slow
def test_a_large_figure_with_its_uncertainty_fits_a_phone(chromium):
    """The widest that is shown: two significant digits of the uncertainty, and a long unit."""
    look = ROOT / "recycling/web/static/look"
    css = "".join((look / name).read_text() for name in ("tokens.css", "base.css", "tables.css"))
    page = chromium.new_page(viewport={"width": 375, "height": 700})
    figure = '<p class="figure-large">0.00012 ± 0.00021 <small>kWh/kg</small></p>'
    page.set_content(f'<style>{css}</style><main class="page">{figure}</main>')
    assert page.evaluate("document.documentElement.scrollWidth") == 375
    page.close()
