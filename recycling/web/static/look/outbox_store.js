/* The outbox of this device: entries in the order they were made, and who holds the device.
   Read by pages and by the service worker; nothing here is a page, and no page is here. */
(() => {
  "use strict";
  const open = () => new Promise((done, fail) => {
    const asked = indexedDB.open("bench", 1);
    asked.onupgradeneeded = () => {
      const entries = asked.result.createObjectStore("entries", { keyPath: "id", autoIncrement: true });
      entries.createIndex("key", "key", { unique: true });
      asked.result.createObjectStore("holders", { keyPath: "slug" });
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });

  async function act(name, mode, deed) {
    const base = await open();
    try {
      return await new Promise((done, fail) => {
        const transaction = base.transaction(name, mode, { durability: "strict" });
        const asked = deed(transaction.objectStore(name));
        transaction.oncomplete = () => done(asked ? asked.result : undefined);
        transaction.onabort = () => fail(transaction.error || asked.error);
      });
    } finally {
      base.close();
    }
  }

  const hex = (bytes) => [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");

  self.outbox = {
    /* Works over plain http too, where crypto.randomUUID does not exist. */
    newKey: () => `wait-${hex(crypto.getRandomValues(new Uint8Array(16)))}`,
    entries: () => act("entries", "readonly", (store) => store.getAll()),
    put: (entry) => act("entries", "readwrite", (store) => store.put(entry)),
    remove: (id) => act("entries", "readwrite", (store) => store.delete(id)),
    holders: () => act("holders", "readonly", (store) => store.getAll()),
    holder: (slug) => act("holders", "readonly", (store) => store.get(slug)),
    hold: (holder) => act("holders", "readwrite", (store) => store.put(holder)),
    release: (slug) => act("holders", "readwrite", (store) => store.delete(slug)),

    /* A tablet that is locked keeps its pages; what is recorded then is nobody's yet. */
    async lock(slug) {
      const before = await self.outbox.holder(slug);
      if (before) await self.outbox.hold({ ...before, member: "" });
    },

    /* The same key again is the same entry: it is in already. */
    add: (entry) => act("entries", "readwrite", (store) => store.add(entry)).catch((error) => {
      if (!error || error.name !== "ConstraintError") throw error;
    }),

    /* What was put right and sent under a new key is done with. */
    async supersede(key) {
      for (const entry of await self.outbox.entries()) if (entry.successor === key) await self.outbox.remove(entry.id);
    },

    /* Pages kept for a workshop, and who held the device there; entries stay. */
    async forgetPages(slug) {
      await self.outbox.release(slug);
      if (self.caches) await caches.delete(`pages-${slug}`);
    },
  };
})();
