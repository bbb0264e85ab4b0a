/* The outbox in plain words: what waits, what was refused and can be dealt with, what was recorded. */
(() => {
  "use strict";
  const $ = (selector) => document.querySelector(selector);
  const when = (moment) => new Date(moment).toLocaleString(document.documentElement.lang || undefined, {
    dateStyle: "medium", timeStyle: "short", timeZone: document.body.dataset.zone || undefined,
  });

  function made(tag, text, more = {}) {
    return Object.assign(document.createElement(tag), { textContent: text }, more);
  }

  function card(entry) {
    const words = outboxPage.words();
    const sheet = $("#outbox-entry").content.firstElementChild.cloneNode(true);
    const part = (name) => sheet.querySelector(`[data-${name}]`);
    const owned = outboxPage.mine(entry);
    sheet.dataset.tone = entry.state === "refused" ? "stop" : entry.state === "waiting" ? "warn" : "note";
    part("title").textContent = entry.title;
    part("state").textContent = owned || entry.state === "recorded" ? words.states[entry.state] : entry.owner ? words.states.others : words.states.unclaimed;
    part("made").textContent = words.made.replace("{when}", when(entry.made_at));
    const lines = entry.state === "recorded" ? [entry.said].filter(Boolean) : owned || !entry.owner ? entry.words : [];
    part("words").append(...lines.map((line) => made("li", line)));
    part("problems").append(...(entry.state === "refused" && owned ? entry.problems : []).map((line) => made("li", line)));
    part("code").textContent = entry.code || "";
    const acts = part("acts");
    if (entry.state === "refused" && owned) acts.append(button(words.putRight, () => putRight(entry)));
    if (!entry.owner && document.body.dataset.member) acts.append(button(words.claim, () => claim(entry)));
    if (entry.state === "recorded") acts.append(button(words.dismiss, () => outbox.remove(entry.id).then(outboxPage.changed)));
    const away = part("discard");
    if (entry.state === "recorded" || !owned || entry.discards) away.remove();
    else {
      away.querySelector("form").addEventListener("submit", (event) => discard(event, entry));
      const field = away.querySelector("input"), label = away.querySelector("label");
      field.id = label.htmlFor = `reason-${entry.id}`;
    }
    return sheet;
  }

  function button(text, press) {
    const key = made("button", text, { type: "button", className: "button" });
    key.addEventListener("click", press);
    return key;
  }

  /* The entry's own page with all that was typed, under a new key. */
  async function putRight(entry) {
    const known = await holder.who(entry.slug);
    if (known.stop) { stateOf(known.stop); return; }
    const successor = outbox.newKey();
    await outbox.put({ ...entry, successor });
    const form = made("form", "", { method: "post", action: entry.path, hidden: true });
    const fields = [...entry.fields, ["idempotency_key", successor], ["made_at", entry.made_at], ["step", "change"], ["csrfmiddlewaretoken", known.token]];
    form.append(...fields.map(([name, value]) => made("input", "", { type: "hidden", name, value })));
    document.body.append(form);
    form.submit();
  }

  async function claim(entry) {
    await outbox.put({ ...entry, owner: document.body.dataset.member });
    await outboxPage.changed();
    outboxPage.send();
  }

  /* Why it is thrown away goes to the book as an entry of its own, in the same order. */
  async function discard(event, entry) {
    event.preventDefault();
    const reason = event.target.elements.reason.value.trim();
    if (!reason) { event.target.elements.reason.focus(); return; }
    const what = [entry.title, ...entry.words].join("\n").slice(0, 2000);
    await outbox.put({
      ...entry, key: outbox.newKey(), state: "waiting", problems: [], discards: true, successor: "",
      path: `/w/${entry.slug}/outbox/discarded/`, title: `${outboxPage.words().discarded}: ${entry.title}`,
      fields: [["what", what], ["reason", reason], ["key_was", entry.key]], words: [...entry.words, reason],
    });
    await outboxPage.changed();
    outboxPage.send();
  }

  function stateOf(stop) {
    for (const part of document.querySelectorAll("[data-stop]")) part.hidden = part.dataset.stop !== stop;
  }

  async function show() {
    const entries = await outbox.entries();
    const order = { refused: 0, waiting: 1, recorded: 2 };
    entries.sort((a, b) => order[a.state] - order[b.state] || a.id - b.id);
    const here = entries.filter((one) => one.slug === document.body.dataset.slug || one.state !== "recorded");
    $("[data-outbox-list]").replaceChildren(...here.map(card));
    $("[data-outbox-empty]").hidden = here.length > 0;
    if (!here.some((one) => one.state === "waiting" && one.stop)) stateOf("");
  }

  document.addEventListener("outbox-change", show);
  document.addEventListener("outbox-say", (event) => stateOf(event.detail));
  document.addEventListener("DOMContentLoaded", async () => {
    if (!self.indexedDB) return;
    $("[data-send]").addEventListener("click", () => outboxPage.send());
    for (const part of document.querySelectorAll("[data-offline-ready]")) {
      part.hidden = (part.dataset.offlineReady === "yes") !== Boolean(self.isSecureContext && navigator.serviceWorker);
    }
    await show();
  });
})();
