/* What script adds to pages that record: how sure a net mass is while it is typed, and in a plain
   sentence what will be recorded. The server reads, judges and says all of it again. */
(() => {
  "use strict";
  const NO_BREAK = "\u00a0";
  const local = () => document.documentElement.lang || undefined;
  const figure = (value, places) =>
    value.toLocaleString(local(), { minimumFractionDigits: places, maximumFractionDigits: places, roundingMode: "halfEven" });

  /* Two significant digits, as `uncertainty_text` of the server's templates: a test compares the two. */
  function sureText(sure) {
    const mg = Math.round(sure);
    const [value, unit] = mg >= 1e6 ? [mg / 1e6, "kg"] : [mg / 1e3, "g"];
    const places = mg ? Math.max(0, 1 - Math.floor(Math.log10(value))) : 2;
    return `±${NO_BREAK}${figure(value, places)}${NO_BREAK}${unit}`;
  }
  self.sureText = sureText;

  function stepsOfScale() {
    const known = document.getElementById("scale-steps");
    if (!known) return null;
    const steps = JSON.parse(known.textContent);
    const chosen = document.querySelector("[name=scale]:checked, select[name=scale]");
    return steps[chosen ? chosen.value : ""] || steps[""];
  }
  const sureOf = (steps, load) => steps.find(([most]) => most === null || load <= most)[1];

  function showSure(line, steps) {
    const place = line.querySelector(".net-u");
    const { netMg, grossMg, tareMg } = line.dataset;
    if (!place) return;
    if (netMg === undefined || !steps) { place.textContent = ""; return; }
    const tare = Number(tareMg);
    place.textContent = sureText(Math.hypot(sureOf(steps, Number(grossMg)), tare ? sureOf(steps, tare) : 0));
  }

  /* A sentence is complete when every row that was begun has a net mass. */
  function saySentence(form) {
    const place = form.querySelector("[data-sentence]");
    if (!place) return;
    const lines = [...form.querySelectorAll("[data-net]")];
    const begun = lines.filter((line) => document.getElementById(line.dataset.gross).value.trim());
    const known = begun.filter((line) => line.dataset.netMg !== undefined && !line.hasAttribute("data-bad"));
    const from = form.querySelector("select[name=source], [name=source]:checked");
    const name = !from || !from.value ? "" : from.selectedOptions ? from.selectedOptions[0].text : from.value;
    const asks = [...form.querySelectorAll("[id$=-net]")].some((field) => field.value.trim());
    const whole = begun.length > 0 && known.length === begun.length && name && !asks;
    form.querySelector("[data-step]").disabled = !whole;
    if (!whole) { place.textContent = place.dataset.textEmpty; return; }
    const mass = massText(known.reduce((sum, line) => sum + Number(line.dataset.netMg), 0));
    const text = known.length === 1 ? place.dataset.textOne : place.dataset.textMany;
    place.textContent = text.replace("{count}", known.length).replace("{mass}", mass).replace("{source}", name);
  }

  /* The programme of a giver's last collection, until a person chooses one. */
  function propose(event) {
    const last = document.getElementById("last-programmes");
    const programme = document.querySelector("select[name=programme]");
    if (!last || !programme) return;
    if (event.target === programme) { programme.dataset.chosen = ""; return; }
    if (event.target.name !== "source" || programme.dataset.chosen !== undefined) return;
    const said = JSON.parse(last.textContent)[event.target.value];
    if (said) programme.value = said;
  }

  function show() {
    const steps = stepsOfScale();
    document.querySelectorAll("[data-net]").forEach((line) => showSure(line, steps));
    document.querySelectorAll("form").forEach(saySentence);
  }

  document.addEventListener("DOMContentLoaded", () => {
    document.addEventListener("input", show);
    document.addEventListener("change", show);
    for (const kind of ["input", "change"]) document.addEventListener(kind, propose);
    show();
  });
})();
