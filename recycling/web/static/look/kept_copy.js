/* On a copy that was kept: the name from this tab, times of now, and rows added without the network. */
(() => {
  "use strict";
  function wallClock(zone) {
    const parts = new Intl.DateTimeFormat("en-CA", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
    }).formatToParts(new Date());
    const part = Object.fromEntries(parts.map(({ type, value }) => [type, value]));
    return `${part.year}-${part.month}-${part.day}T${part.hour}:${part.minute}`;
  }

  function renumber(element, section, place) {
    const was = new RegExp(`(^|[^a-z])${section}-\\d+-`, "g");
    for (const one of [element, ...element.querySelectorAll("*")]) {
      for (const { name, value } of [...one.attributes]) {
        if (name !== "value" && was.test(value)) one.setAttribute(name, value.replace(was, `$1${section}-${place}-`));
      }
    }
  }

  function empty(element) {
    for (const field of element.querySelectorAll("input, textarea")) {
      if (/^(radio|checkbox)$/.test(field.type)) field.checked = field.defaultChecked;
      else if (field.type !== "hidden") field.value = "";
    }
    for (const list of element.querySelectorAll("select")) list.selectedIndex = 0;
  }

  /* One more row like the last of its kind, as the server would have laid it. */
  function addRow(event) {
    const button = event.target.closest("button[name=more]");
    if (!button) return;
    event.preventDefault();
    const [section, kind] = button.value.split(":");
    const kinds = button.form.elements[`${section}-rows`];
    const keys = kinds.value.split(",").filter(Boolean);
    const model = keys.lastIndexOf(kind || "row");
    const rows = [...button.closest(".rows").children].filter((one) => one.querySelector(`[name^="${section}-"]`));
    if (model < 0 || !rows[model]) return;
    const fresh = rows[model].cloneNode(true);
    renumber(fresh, section, keys.length);
    empty(fresh);
    const was = String(model + 1), title = fresh.querySelector(".row-title");
    for (const said of [title && title.lastChild, fresh.getAttributeNode("aria-label")]) {
      if (said) said.nodeValue = said.nodeValue.replace(was, String(keys.length + 1));
    }
    rows[rows.length - 1].after(fresh);
    fresh.dispatchEvent(new Event("input", { bubbles: true }));
    kinds.value = [...keys, kind || "row"].join(",");
    const first = fresh.querySelector("input:not([type=hidden]), select");
    if (first) first.focus();
  }

  /* The lot that the address names, all of it, as the server would have chosen it. */
  function choose(code) {
    const whole = [...document.querySelectorAll("[name=whole-lots]")].find((one) => one.value === code);
    const field = whole || document.getElementById("id_inputs-0-code");
    if (!field) return;
    if (whole) whole.checked = true;
    else {
      field.value = code;
      document.getElementById("id_inputs-0-all").checked = true;
      if (field.closest("details")) field.closest("details").open = true;
    }
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  document.addEventListener("DOMContentLoaded", () => {
    let acting = "";
    try { acting = sessionStorage.getItem("acting") || ""; } catch { /* no name then */ }
    const name = document.querySelector("[data-acting-name]");
    if (name && acting) name.textContent = acting;
    for (const key of document.querySelectorAll("input[name=idempotency_key]")) key.value = outbox.newKey();
    for (const time of document.querySelectorAll("input[type=datetime-local]")) {
      if (time.value) time.value = wallClock(document.body.dataset.zone);
    }
    document.addEventListener("click", addRow);
    const lot = new URLSearchParams(location.search).get("lot");
    if (lot) choose(lot);
  });
})();
