/* Keeps the recording pages at hand and takes entries when there is no network.
   Before this stand VERSION, ASSETS (addresses of our own files), CARRIED (fields that are no part of
   an entry), the outbox's store and who holds the device. */
const FILES = `files-${VERSION}`;
const AWAY = "/without-network/";
const PATIENCE_MS = 6000;
const SENT_PATIENCE_MS = 20000;
const KEPT_LOTS = 20;
const LOT_AGAIN_MS = 60000;
const LOT = /^\/w\/[^/]+\/lots\/[^/]+\//;
const SIGN_IN = /^\/sign-in\//;
const slugOf = (path) => (/^\/w\/([^/]+)\//.exec(path) || [])[1];
const seeOther = (path) => Response.redirect(new URL(path, self.location.origin).href, 303);

self.addEventListener("install", (event) => {
  const fresh = [...ASSETS, AWAY].map((path) => new Request(path, { cache: "reload" }));
  event.waitUntil(caches.open(FILES).then((files) => files.addAll(fresh)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("files-") && name !== FILES) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (origin !== self.location.origin) return;
  if (request.method === "GET" && ASSETS.includes(pathname)) event.respondWith(file(request));
  else if (request.mode !== "navigate") return;
  else if (request.method === "GET") event.respondWith(page(event, pathname));
  else event.respondWith(slugOf(pathname) ? entry(request, pathname) : plain(request));
});

self.addEventListener("message", (event) => {
  if (event.data.keep) event.waitUntil(keep(event.data.keep));
});

const inTime = (answer, patience) => Promise.race([
  answer, new Promise((_done, fail) => { setTimeout(() => fail(new Error("no answer")), patience); }),
]);

async function file(request) {
  const files = await caches.open(FILES);
  return (await files.match(request, { ignoreSearch: true })) || fetch(request);
}

const lotIn = (path) => (LOT.exec(path) || [""])[0];
const away = async () => (await caches.match(AWAY)) || Response.error();

/* Who has left is told first, then the network; the copy that is kept when it does not answer. */
async function page(event, pathname) {
  const { request } = event;
  const slug = slugOf(pathname);
  const pages = slug && (await caches.has(`pages-${slug}`)) ? await caches.open(`pages-${slug}`) : null;
  const kept = pages ? await pages.match(pathname) : null;
  try {
    if (await holder.left()) await inTime(holder.makeUp(), PATIENCE_MS);
    const answer = await (kept ? inTime(fetch(request), PATIENCE_MS) : fetch(request));
    if (answer.ok && lotIn(pathname) === pathname) event.waitUntil(keepLot(slug, pathname));
    if (!kept || ![502, 503, 504].includes(answer.status)) return answer;
  } catch { /* no network: below */ }
  return kept || away();
}

/* An entry goes to the book when it answers; else, or when others wait before it, to the outbox. */
async function entry(request, path) {
  let typed;
  try {
    typed = await request.clone().formData();
  } catch { return fetch(request); }
  const fields = [...typed];
  const asked = typed.get("more") || typed.get("step") === "change";
  if (!typed.has("in_words") || asked || fields.some(([, value]) => typeof value !== "string")) return plain(request);
  const slug = slugOf(path);
  const keptCopy = !typed.get("csrfmiddlewaretoken");
  const left = await holder.left();
  const queued = left || (await outbox.entries()).some((one) => one.slug === slug && one.state === "waiting");
  if (keptCopy || queued) return wait(slug, path, typed, fields);
  let answer;
  try {
    answer = await inTime(fetch(request.url, { method: "POST", body: new URLSearchParams(fields), redirect: "follow", headers: { "X-Shown-Next": "1" } }), SENT_PATIENCE_MS);
  } catch { return wait(slug, path, typed, fields); }
  const proxied = answer.status === 503 && !answer.headers.has("X-Request-Id");
  const later = proxied || [408, 425, 429, 500, 502, 504].includes(answer.status) || answer.headers.has("X-Page-Too-Old");
  if (!answer.redirected) return later ? wait(slug, path, typed, fields) : answer;
  const to = new URL(answer.url);
  if (SIGN_IN.test(to.pathname)) {
    await wait(slug, path, typed, fields);
    return seeOther(`/sign-in/?next=/w/${slug}/outbox/`);
  }
  if (!to.pathname.endsWith("/acting/")) await outbox.supersede(typed.get("idempotency_key"));
  return seeOther(to.pathname + to.search);
}

async function plain(request) {
  try { return await fetch(request); } catch { return away(); }
}

async function wait(slug, path, typed, fields) {
  const held = await outbox.holder(slug);
  const key = typed.get("idempotency_key") || outbox.newKey();
  const [title, ...words] = typed.get("in_words").split(/\r?\n/);
  const made_at = typed.get("made_at") || new Date().toISOString();
  await outbox.add({
    key, slug, path, title, words, made_at,
    owner: typed.get("made_by") || (held ? held.member : ""),
    fields: fields.filter(([name]) => !CARRIED.includes(name)),
    state: "waiting", tries: 0, problems: [],
  });
  await outbox.supersede(key);
  return seeOther(`/w/${slug}/outbox/`);
}

/* Copies without names: the server makes them for this, and says so in a header. */
async function copyAll(slug, asked) {
  const listed = await fetch(`/w/${slug}/outbox/pages/${asked}`, { redirect: "manual", cache: "no-store", headers: { "X-Asked-By-Page": "1" } });
  if (!listed.ok) return null;
  const { pages } = await listed.json();
  const copies = await caches.open(`pages-${slug}`);
  for (const path of pages) {
    const copy = await fetch(path, { headers: { "X-Kept-Copy": "1" }, redirect: "manual", cache: "no-store" });
    if (copy.ok && copy.headers.get("X-Kept-Copy") === "1") await copies.put(path, copy);
    if (!(await outbox.holder(slug))) return null;
  }
  return pages;
}

async function drop(slug, unwanted) {
  const copies = await caches.open(`pages-${slug}`);
  for (const old of await copies.keys()) if (unwanted(new URL(old.url).pathname)) await copies.delete(old);
}

/* A lot that was seen, with what is recorded of it; those seen longest ago make room. */
async function keepLot(slug, path) {
  if (!(await outbox.holder(slug))) return;
  const copies = await caches.open(`pages-${slug}`);
  const before = await copies.match(path);
  if (before && Date.now() - Date.parse(before.headers.get("Date")) < LOT_AGAIN_MS) return;
  const pages = await copyAll(slug, `?lot=${path.split("/")[4]}`);
  if (!pages) return;
  const lots = [...new Set((await copies.keys()).map((one) => lotIn(new URL(one.url).pathname)).filter((one) => one && one !== path))];
  const kept = [...lots.slice(Math.max(0, lots.length + 1 - KEPT_LOTS)), path];
  await drop(slug, (old) => lotIn(old) && !(kept.includes(lotIn(old)) && (lotIn(old) !== path || pages.includes(old))));
}

async function keep(slug) {
  const pages = await copyAll(slug, "");
  if (pages) await drop(slug, (old) => !pages.includes(old) && !lotIn(old));
}
