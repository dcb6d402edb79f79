// What the phone keeps: entries until the server has confirmed each, the engine's round, who reads with what.
// An entry counts as kept only when the database says that it lies on the disk.

const STORES = { entries: "id", rounds: "vehicle", facts: "name", pictures: "id" };
let opened = null;

function open() {
  opened ??= new Promise((done, failed) => {
    const asked = indexedDB.open("pit", 1);
    asked.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) asked.result.createObjectStore(name, { keyPath });
    };
    asked.onsuccess = () => {
      asked.result.onclose = () => { opened = null; };
      asked.result.onversionchange = () => asked.result.close();
      done(asked.result);
    };
    asked.onerror = () => { opened = null; failed(asked.error); };
    asked.onblocked = () => { opened = null; failed(new Error("another page holds the readings")); };
  });
  return opened;
}

async function inOne(names, mode, work) {
  const database = await open();
  return new Promise((done, failed) => {
    let result;
    const all = database.transaction(names, mode, { durability: "strict" });
    all.oncomplete = () => done(result);
    all.onabort = () => failed(all.error ?? new Error("not kept"));
    all.onerror = (event) => event.preventDefault();
    const request = work(...names.map((name) => all.objectStore(name)), all);
    if (request) request.onsuccess = () => { result = request.result; };
    if (request) request.onerror = () => { try { all.abort(); } catch { /* it has ended */ } };
  });
}

export const all = (name) => inOne([name], "readonly", (store) => store.getAll());
export const one = (name, key) => inOne([name], "readonly", (store) => store.get(key));
export const put = (name, thing) => inOne([name], "readwrite", (store) => store.put(thing));
export const drop = (name, key) => inOne([name], "readwrite", (store) => store.delete(key));
export const clear = (name) => inOne([name], "readwrite", (store) => store.clear());

// An entry and its picture together, or neither.
export function keepEntry(entry, picture = null) {
  return inOne(["entries", "pictures"], "readwrite", (entries, pictures) => {
    if (picture) pictures.put(picture);
    return entries.put(entry);
  });
}

// What the server said of entries; one that meanwhile got another number is left as it is.
export function confirm(said) {
  return inOne(["entries"], "readwrite", (entries) => {
    for (const each of said) {
      const asked = entries.get(each.id);
      asked.onsuccess = () => {
        if (asked.result) entries.put({ ...asked.result, state: "confirmed", said: each });
      };
    }
  });
}

// An entry that was typed wrong, as long as nobody was told of it; whether it was still so.
export async function takeOut(id) {
  const taken = await inOne(["entries"], "readwrite", (entries) => {
    const asked = entries.get(id);
    asked.onsuccess = () => {
      if (asked.result?.state === "waiting") entries.put({ ...asked.result, state: "taken out" });
    };
  }).then(() => one("entries", id));
  return taken?.state === "taken out";
}

// Another number for an entry whose own was used before for something else.
export function renumber(id, fresh) {
  return inOne(["entries"], "readwrite", (entries) => {
    const asked = entries.get(id);
    asked.onsuccess = () => {
      if (!asked.result) return;
      entries.put({ ...asked.result, id: fresh });
      entries.delete(id);
    };
  });
}

export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

export const fact = async (name) => (await one("facts", name))?.is ?? "";
export const setFact = (name, is) => put("facts", { name, is });

// Small things that must be there at once; without them nothing is lost but comfort.
export function remembered(name) {
  try { return localStorage.getItem(`pit-${name}`) ?? ""; } catch { return ""; }
}

export function remember(name, text) {
  try { localStorage.setItem(`pit-${name}`, text); } catch { /* no room: the entry itself is kept elsewhere */ }
}
