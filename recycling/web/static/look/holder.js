/* Who holds this device: whom the service takes us for, and whoever has left it.
   Read by pages and by the service worker. Who locks or signs out is kept first, then told to the
   service; without network it is told before all else when there is one again. */
(() => {
  "use strict";
  const LEFT = "";   /* the place of a note among the holders; no workshop has an empty name */
  const BY_ITSELF = { "X-Asked-By-Page": "1" };

  /* Whom the service takes us for, and a fresh token; a word instead when nothing can be sent. */
  async function who(slug) {
    let answer;
    try {
      answer = await fetch(`/w/${slug}/outbox/who/`, { redirect: "manual", cache: "no-store", headers: BY_ITSELF });
    } catch { return { stop: "away" }; }
    if (answer.type === "opaqueredirect" || answer.status === 401) return { stop: "sign-in" };
    if (answer.status === 423) return { stop: "locked" };
    if (answer.status === 404) return { stop: "other" };
    if (!answer.ok) return { stop: "away" };
    return answer.json();
  }

  const left = () => outbox.holder(LEFT);

  /* Pages go with whoever signs out; a tablet that is locked keeps them for the next one. */
  async function leave(note) {
    await outbox.hold({ ...note, slug: LEFT });
    if (!note.signOut) return outbox.lock(note.of);
    for (const one of await outbox.holders()) if (one.slug) await outbox.forgetPages(one.slug);
    for (const one of await outbox.entries()) if (one.state === "recorded") await outbox.remove(one.id);
  }

  /* A session that is over, or somebody else's, is not ended again. */
  async function told(note) {
    const known = await who(note.of);
    if (known.stop === "away") return null;
    if ((known.stop && !(known.token && note.signOut)) || (note.member && known.member !== note.member)) return "";
    const body = new URLSearchParams([...note.fields, ["csrfmiddlewaretoken", known.token]]);
    try {
      const answer = await fetch(note.path, { method: "POST", body, redirect: "follow" });
      return answer.ok ? answer.url : null;
    } catch { return null; }
  }

  async function tell() {
    const note = await left();
    if (!note) return "";
    const to = await told(note);
    if (to !== null) await outbox.release(LEFT);
    return to;
  }

  /* Give the page to go to, "" when nothing was to be told, null when it could not be. */
  const makeUp = () => (navigator.locks ? navigator.locks.request("holder", tell) : tell());

  self.holder = { who, left, leave, makeUp };
})();
