/* Sends what waits on this device, once and in order, and says how much does. */
(() => {
  "use strict";
  const KEEP_EVERY_MS = 60000;
  const RETRY_MS = 10000;
  const UNKNOWN = [408, 425, 429];
  const $ = (selector) => document.querySelector(selector);
  const words = () => JSON.parse($("#device-words").textContent);
  const holds = () => document.body.dataset;
  const mine = (entry) => Boolean(entry.owner) && (holds().members || "").split(" ").includes(entry.owner);
  let sending = false;

  /* "2 entries waiting", in the plural of the page's language. */
  function counted(kind, count) {
    const forms = words()[kind];
    const form = new Intl.PluralRules(document.documentElement.lang || "en").select(count);
    return (form === "one" ? forms.one : forms.other).replace("{count}", count);
  }

  async function showCount() {
    const line = $("[data-outbox-line]");
    if (!line || !self.indexedDB) return;
    const entries = await outbox.entries();
    const [waiting, refused] = ["waiting", "refused"].map((state) => entries.filter((one) => one.state === state).length);
    line.hidden = !waiting && !refused;
    const said = [waiting && counted("waiting", waiting), refused && counted("refused", refused)].filter(Boolean).join(" · ");
    const link = line.querySelector("a");
    link.textContent = said;
    const slug = holds().slug || (entries.find((one) => one.state !== "recorded") || {}).slug;
    link.href = `/w/${slug}/outbox/`;
  }

  async function changed() {
    await showCount();
    document.dispatchEvent(new CustomEvent("outbox-change"));
  }

  function say(state) {
    document.dispatchEvent(new CustomEvent("outbox-say", { detail: state }));
  }

  const textOf = (part) => part.textContent.replace(/\s+/g, " ").trim();

  function problemsIn(page) {
    const summary = page.querySelector("[data-refused]");
    const lines = summary ? [...summary.querySelectorAll("li")].map(textOf) : [];
    return lines.length ? lines : [...page.querySelectorAll("main h1, main .lede, main .panel p")].map(textOf);
  }

  /* 2xx: recorded. 4xx: refused, but for those that say "later". All else is unknown. */
  async function judged(answer) {
    const { pathname } = new URL(answer.url);
    if (answer.redirected && pathname.startsWith("/sign-in/")) return { stop: "sign-in" };
    if (answer.status === 423) return { stop: "locked" };
    if (answer.status === 412) return { stop: "other" };
    const later = answer.status === 409 && answer.headers.has("Retry-After");
    if (later || answer.status >= 500 || UNKNOWN.includes(answer.status)) return { stop: "unsure" };
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.status === 403) return { stale: true, state: "refused", problems: problemsIn(page) };
    if (answer.ok && answer.redirected) {
      const saved = page.querySelector("[data-recorded]");
      const said = saved && saved.querySelector(".lede");
      return { state: "recorded", code: saved ? saved.dataset.recorded : "", said: said ? textOf(said) : "" };
    }
    const problems = problemsIn(page);
    return { state: "refused", problems: answer.ok ? [words().asksMore, ...problems] : problems };
  }

  async function post(entry, known) {
    const body = new URLSearchParams(entry.fields);
    body.set("idempotency_key", entry.key);
    body.set("step", "record");
    body.set("made_at", entry.made_at);
    body.set("csrfmiddlewaretoken", known.token);
    try {
      return await judged(await fetch(entry.path, {
        method: "POST", body, redirect: "follow", headers: { "X-Outbox-Member": entry.owner },
      }));
    } catch { return { stop: "away" }; }
  }

  async function sendOne(entry) {
    let known = await holder.who(entry.slug);
    if (known.stop) return known;
    if (known.member !== entry.owner) return { stop: "other" };
    let outcome = await post(entry, known);
    if (outcome.stale) {
      known = await holder.who(entry.slug);
      outcome = known.stop ? known : await post(entry, known);
    }
    return outcome;
  }

  async function sendAll() {
    const stopped = new Set();
    for (const entry of await outbox.entries()) {
      if (await holder.left()) break;
      const place = `${entry.slug} ${entry.owner}`;
      if (entry.state !== "waiting" || !mine(entry) || stopped.has(place)) continue;
      const outcome = await sendOne(entry);
      const now = (await outbox.entries()).find((one) => one.id === entry.id);
      if (!now || now.key !== entry.key) continue;
      if (outcome.stop) {
        stopped.add(place);
        await outbox.put({ ...entry, tries: entry.tries + 1, stop: outcome.stop });
        say(outcome.stop);
        continue;
      }
      const fields = outcome.state === "recorded" ? [] : entry.fields;
      await outbox.put({ ...entry, ...outcome, fields, stop: "", settled_at: new Date().toISOString() });
      await changed();
    }
    await changed();
  }

  /* One tab sends at a time; where a browser has no locks, keys keep twins harmless. */
  async function send() {
    if (sending || !self.indexedDB || !(await holderPage.first()) || !holds().slug) return;
    if (!(await outbox.entries()).some((one) => one.state === "waiting" && mine(one))) return;
    sending = true;
    try {
      if (navigator.locks) await navigator.locks.request("outbox", { ifAvailable: true }, (lock) => lock && sendAll());
      else await sendAll();
    } finally { sending = false; }
  }

  /* In words, for the outbox: what the page was, and each thing that was filled in, or the key pressed. */
  function inWords(form, key) {
    const sentence = form.querySelector(".submit-sentence");
    const lines = [textOf($("main h1"))];
    for (const field of form.elements) {
      if (!field.name || field.type === "hidden" || field.type === "submit" || field.type === "password" || !field.value) continue;
      if (/^(radio|checkbox)$/.test(field.type) && !field.checked) continue;
      const label = field.labels && field.labels[0] ? textOf(field.labels[0]) : field.name;
      const group = field.closest("[role=group]");
      const set = /^(radio|checkbox)$/.test(field.type) ? field.closest("fieldset") : null;
      const legend = set && set.querySelector("legend") ? textOf(set.querySelector("legend")) : "";
      const chosen = field.tagName === "SELECT" ? textOf(field.selectedOptions[0]) : field.value;
      const value = /^(radio|checkbox)$/.test(field.type) ? label : chosen;
      const name = [group && group.getAttribute("aria-label"), legend || (value === label ? "" : label)].filter(Boolean).join(", ");
      lines.push(name ? `${name}: ${value}` : value);
    }
    if (lines.length === 1 && (sentence || key)) lines.push(textOf(sentence || key));
    return lines.join("\n");
  }

  function mark(event) {
    const form = event.target;
    if (!form.matches("form[data-outbox]") || event.defaultPrevented) return;
    const hidden = (name, value) => {
      let field = form.querySelector(`input[name=${name}]`);
      if (!field) {
        field = Object.assign(document.createElement("input"), { type: "hidden", name });
        form.append(field);
      }
      field.value = value;
    };
    hidden("in_words", inWords(form, event.submitter));
    hidden("made_by", holds().member || "");
  }

  /* Who holds the device now; pages of a workshop that the new one is not in are forgotten. */
  async function settle() {
    const { slug, member, members } = holds();
    for (const one of await outbox.holders()) {
      if (one.slug && one.member && !members.split(" ").includes(one.member)) await outbox.forgetPages(one.slug);
    }
    const before = await outbox.holder(slug);
    await outbox.hold({ slug, member, kept_at: before ? before.kept_at : 0 });
  }

  async function keepPages() {
    const { slug } = holds();
    const held = await outbox.holder(slug);
    if (!held || Date.now() - (held.kept_at || 0) < KEEP_EVERY_MS) return;
    const ready = await navigator.serviceWorker.ready;
    await outbox.hold({ ...held, kept_at: Date.now() });
    ready.active.postMessage({ keep: slug });
  }

  self.outboxPage = { send, words, mine, changed, inWords };

  document.addEventListener("DOMContentLoaded", async () => {
    document.addEventListener("submit", mark);
    if (!self.indexedDB) return;
    await showCount();
    const worker = self.isSecureContext && navigator.serviceWorker;
    if (worker) {
      worker.register("/worker.js").catch(() => {});
    }
    if (holds().locked) await outbox.lock(holds().locked);
    const goesOn = await holderPage.first();
    if (goesOn && holds().member) {
      try { sessionStorage.setItem("acting", $("[data-acting-name]").textContent); } catch { /* shown on this page only */ }
      await settle();
      if (worker) await keepPages();
    }
    if (!holds().members && holds().slug) {
      const held = await outbox.holder(holds().slug);
      document.body.dataset.members = held ? held.member : "";
      await changed();   /* whose entries are whose is known only now */
    }
    send();
    setInterval(send, RETRY_MS);
    self.addEventListener("online", send);
    self.addEventListener("pageshow", (event) => { if (event.persisted) send(); });
  });
})();
