/* Lock and sign-out on a page: done at once for the eye, and told to the service before all else. */
(() => {
  "use strict";
  const $ = (selector) => document.querySelector(selector);
  const after = (note) => note.signOut ? "/sign-in/" : `/w/${note.of}/acting/`;
  let gone = null, asking = null;

  function forgetName() {
    try { sessionStorage.removeItem("acting"); } catch { /* no name was kept */ }
    if ($("[data-acting-name]")) $("[data-acting-name]").textContent = "";
  }

  function showLeft(note) {
    gone = note;
    for (const part of document.querySelectorAll("details.who, form.lock")) part.remove();
    Object.assign(document.body.dataset, { member: "", members: "" });
    const said = $(`template[data-left="${note.signOut ? "sign-out" : "lock"}"]`) || document.createElement("template");
    document.title = said.dataset.title || "";
    const heading = Object.assign(document.createElement("h1"), { textContent: document.title });
    $("main").replaceChildren(heading, said.content.cloneNode(true));
  }

  async function settled() {
    const note = self.indexedDB && await holder.left();
    if (!note && !gone) return true;
    const { member, slug } = document.body.dataset;
    const theirs = member || (slug && note && note.signOut);
    const to = note ? await holder.makeUp() : "";
    if (to === null) {
      forgetName();
      if (theirs) showLeft(note);
      if (gone && $("[data-untold]")) $("[data-untold]").hidden = false;
      return false;
    }
    if (!theirs && !gone) return true;
    location.replace(to || after(note || gone));
    return false;
  }

  /* Tell the service of whoever left. False when the page must not go on. */
  const first = () => { asking = asking || settled().finally(() => { asking = null; }); return asking; };

  async function leave(event) {
    const form = event.target;
    if (!form.matches("form[data-leave]") || event.defaultPrevented || !self.indexedDB) return;
    event.preventDefault();
    const { member, slug } = document.body.dataset;
    const holders = (await outbox.holders()).filter((one) => one.slug);
    const known = (slug ? holders.find((one) => one.slug === slug) : holders[0]) || {};
    const of = slug || known.slug;
    if (!of) { form.submit(); return; }
    const fields = [...new FormData(form)].filter(([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string");
    const note = { of, fields, member: member || known.member || "", path: new URL(form.action).pathname, signOut: form.dataset.leave === "sign-out" };
    await holder.leave(note);
    forgetName();
    showLeft(note);
    await asking;   /* what was asked before did not know of it yet */
    await first();
  }

  self.holderPage = { first };
  document.addEventListener("DOMContentLoaded", () => document.addEventListener("submit", leave));
})();
