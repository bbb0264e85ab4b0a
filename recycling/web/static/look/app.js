/* What script adds: the chosen light, live net mass, timers, and one submit for one press.
   Loaded before the page is drawn so that the chosen light does not flash; everything else waits. */
(() => {
  "use strict";
  const root = document.documentElement;
  const THEME = "theme";
  const remembered = (key) => {
    try { return localStorage.getItem(key) || ""; } catch { return ""; }
  };
  const remember = (key, value) => {
    try { localStorage.setItem(key, value); } catch { /* private mode: kept for this page only */ }
  };

  root.classList.add("scripted");
  if (remembered(THEME)) root.dataset.theme = remembered(THEME);

  function chooseTheme(event) {
    if (event.target.value) root.dataset.theme = event.target.value;
    else delete root.dataset.theme;
    remember(THEME, event.target.value);
    document.dispatchEvent(new CustomEvent("theme-change"));
  }

  /* Masses, only to preview; the server reads and judges them again. Ambiguous ones give null. */
  const MG = { mg: 1, g: 1e3, kg: 1e6, oz: 28349.523125, lb: 453592.37 };
  function readMass(text, unit) {
    const match = /^\s*([0-9]+(?:[.,][0-9]+)?)\s*(mg|g|kg|oz|lb)?\s*$/i.exec(text);
    if (!match) return null;
    const [, digits, typed] = match;
    if (!typed && /[.,]/.test(digits)) return null;
    const named = (typed || unit).toLowerCase();
    if (named !== "kg" && /,[0-9]{3}$/.test(digits)) return null;
    return Number(digits.replace(",", ".")) * MG[named];
  }
  self.readMass = readMass;
  /* As the server writes masses, `mass_text` of its templates: a test compares the two. */
  function massText(mg) {
    const size = Math.round(mg);
    const places = size >= 1e5 ? 0 : size >= 1e4 ? 1 : size > 0 && size < 10 ? 3 : 2;
    const [value, digits, unit] = size >= 999500 ? [size / 1e6, 3, "kg"] : [size / 1e3, places, "g"];
    const shown = value.toLocaleString(root.lang || undefined, { minimumFractionDigits: digits, maximumFractionDigits: digits });
    return `${shown}\u00a0${unit}`;
  }
  self.massText = massText;

  function showNet(line) {
    const [gross, tare] = ["gross", "tare"].map((name) => document.getElementById(line.dataset[name]));
    if (!gross || !tare) return;
    const output = line.querySelector("output");
    delete line.dataset.netMg;
    if (!gross.value.trim()) { output.textContent = "–"; delete line.dataset.bad; return; }
    const unit = line.dataset.bareUnit || "g";
    const [g, t] = [readMass(gross.value, unit), tare.value.trim() ? readMass(tare.value, unit) : 0];
    const bad = g === null || t === null || t > g;
    line.toggleAttribute("data-bad", bad);
    if (!bad) Object.assign(line.dataset, { netMg: g - t, grossMg: g, tareMg: t });
    output.textContent = g === null || t === null ? line.dataset.textUnclear : bad ? line.dataset.textNegative : massText(g - t);
  }
  /* The unit beside a mass counts for a bare number only; it steps back when one is typed. */
  function showUnit(box) {
    const unit = box.querySelector(".unit");
    if (unit) unit.toggleAttribute("data-typed", /[a-z]/i.test(box.querySelector("input").value));
  }
  function showMasses() {
    document.querySelectorAll("[data-net]").forEach(showNet);
    document.querySelectorAll('[data-size="mass"] .field-box').forEach(showUnit);
  }

  function clockText(seconds) {
    const whole = Math.max(0, Math.floor(seconds));
    const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
    return `${h ? `${h}:` : ""}${String(m).padStart(h ? 2 : 1, "0")}:${String(s).padStart(2, "0")}`;
  }
  function tick() {
    const now = Date.now();
    for (const time of document.querySelectorAll("time[data-since]")) {
      time.textContent = clockText((now - Date.parse(time.dateTime)) / 1000);
    }
    for (const time of document.querySelectorAll("time[data-until]")) {
      const left = (Date.parse(time.dateTime) - now) / 1000;
      const line = time.closest(".timer");
      if (left > 0) { time.textContent = clockText(left); continue; }
      if (!line || line.hasAttribute("data-done")) continue;
      line.setAttribute("data-done", "");
      line.setAttribute("role", "alert");
      time.textContent = time.dataset.doneText;
    }
  }

  /* A second press within ten seconds is held back; after that the person may try again. */
  function guardSubmit(event) {
    const form = event.target;
    if (form.method !== "post") return;
    if (form.dataset.sent && Date.now() - Number(form.dataset.sent) < 10000) { event.preventDefault(); return; }
    form.dataset.sent = String(Date.now());
    const button = event.submitter || form.querySelector(".button-main");
    if (!button || !button.dataset.sending) return;
    const label = button.textContent;
    button.setAttribute("aria-disabled", "true");
    button.textContent = button.dataset.sending;
    setTimeout(() => { button.removeAttribute("aria-disabled"); button.textContent = label; delete form.dataset.sent; }, 10000);
  }

  const openSheets = () => document.querySelectorAll("details.who[open], details.nav-more[open]");
  function escape(event) {
    if (event.key !== "Escape") return;
    for (const sheet of openSheets()) { sheet.open = false; sheet.querySelector("summary").focus(); }
  }

  function press(event) {
    const fill = event.target.closest("[data-fill]");
    if (fill) {
      const field = document.getElementById(fill.dataset.fill);
      field.value = fill.dataset.value;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      (document.getElementById(fill.dataset.then) || field).focus();
    }
    if (event.target.closest("[data-print]")) window.print();
    for (const sheet of openSheets()) if (!sheet.contains(event.target)) sheet.open = false;
  }

  /* Only a page with something that follows the server by itself needs the script that does so. */
  function followServer() {
    if (!document.querySelector("[hx-get], [hx-post]")) return;
    const script = document.createElement("script");
    script.src = root.dataset.live;
    document.body.append(script);
  }

  document.addEventListener("DOMContentLoaded", () => {
    followServer();
    const choice = document.querySelector("[data-theme-choice]");
    if (choice) { choice.value = remembered(THEME); choice.addEventListener("change", chooseTheme); }
    document.addEventListener("input", showMasses);
    document.addEventListener("click", press);
    document.addEventListener("keydown", escape);
    document.addEventListener("submit", guardSubmit);
    for (const region of document.querySelectorAll(".drawing-region")) {
      const mark = region.querySelector(".focus-mark");
      if (!mark) continue;
      const [inside, outside] = [mark.getBoundingClientRect(), region.getBoundingClientRect()];
      region.scrollTo(inside.left - outside.left - region.clientWidth / 2, inside.top - outside.top - region.clientHeight / 2);
    }
    const summary = document.getElementById("error-summary");
    if (summary) summary.focus();
    showMasses();
    tick();
    setInterval(tick, 1000);
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
  });
})();
