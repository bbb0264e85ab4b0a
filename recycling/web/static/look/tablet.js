/* On a shared tablet: lock when nobody touches it, and take along what is typed in the page. */
(() => {
  "use strict";
  let touched = Date.now();

  /* A page that shows again what was sent holds what was typed, though nothing in it is changed. */
  function typedOn(page) {
    const changed = (field) => /^(radio|checkbox)$/.test(field.type) ? field.checked !== field.defaultChecked
      : "defaultValue" in field && field.type !== "hidden" && field.value !== field.defaultValue;
    const typedIn = (form) => form.hasAttribute("data-again") || [...form.elements].some(changed);
    const form = [...page.querySelectorAll("main form[method=post]:not([action])")].find(typedIn);
    if (!form) return [];
    const secret = ({ name, type }) => type === "password" || name === "csrfmiddlewaretoken";
    const never = [...form.elements].filter(secret).map((field) => field.name);
    const typed = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !never.includes(name));
    return [...typed, ["in_words", outboxPage.inWords(form)]];
  }

  function takeAlong(event) {
    const form = event.target;
    const fields = [...typedOn(document), ["path", location.pathname + location.search]];
    form.append(...fields.map(([name, value]) => Object.assign(document.createElement("input"), { type: "hidden", name, value })));
  }

  document.addEventListener("DOMContentLoaded", () => {
    const form = document.querySelector("form[data-lock-after]");
    if (!form) return;
    form.addEventListener("submit", takeAlong);
    for (const kind of ["pointerdown", "keydown", "input", "scroll"]) {
      document.addEventListener(kind, () => { touched = Date.now(); }, { passive: true });
    }
    const after = Number(form.dataset.lockAfter) * 60000;
    setInterval(() => { if (Date.now() - touched > after) { touched = Date.now(); form.requestSubmit(); } }, 1000);
  });
})();
