/**
 * The phone's storage: one IndexedDB database of texts and pictures. What a row means
 * is known to the engine; here are only keys, bytes and transactions.
 *
 * Values are kept as ArrayBuffers: other binary values are lost by some browsers.
 */

const NAME = 'hangtrue';

/**
 * The edition of the lists below. A new edition may add stores, and removes or rewrites
 * none that held what is nowhere else: rows in "pending" may be the only copy there is.
 */
const EDITION = 4;
const STORES = ['meta', 'jobs', 'numbers', 'records', 'snapshots', 'pending', 'strays', 'photos', 'small', 'sending', 'taken', 'drafts'];

/** Stores of earlier editions that nothing is read from any more. */
const GONE = ['painted'];

/** The pages as they were last shown are in a cache of this name. */
const PAINTED = 'painted';

/** What is lost when the rows are (the rest can be fetched or made again). */
const PRECIOUS = ['meta', 'jobs', 'numbers', 'records', 'pending', 'strays', 'photos', 'small', 'sending', 'taken', 'drafts'];

/** What an engine's answers write: snapshots too, which follow from records. */
const WRITTEN = [...PRECIOUS, 'snapshots'];

/** Thrown when another tab has used the number or the key that this one wanted, or changed the row. */
export class Outrun extends Error {}

const encoder = new TextEncoder();
const decoder = new TextDecoder();
const pack = (text) => encoder.encode(text).buffer;
const unpack = (bytes) => (bytes === undefined ? '' : decoder.decode(bytes));

/** Texts in one piece, each ended by a byte that is in none of them. */
const joined = (texts) => {
  const all = new Uint8Array(texts.reduce((size, text) => size + text.byteLength + 1, 0));
  let at = 0;
  for (const text of texts) {
    all.set(new Uint8Array(text), at);
    at += text.byteLength + 1;
  }
  return all;
};

/** @param {IDBRequest} request */
const done = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

/** All rows of a job in a store whose keys are [job, number] or [job, text]; of a path likewise. */
const ofJob = (job) => IDBKeyRange.bound([job], [job, []]);

/** The keys of photos, in a transaction over their stores. */
const photoKeys = async (tx) => {
  const [sending, photos] = await Promise.all([done(tx.objectStore('sending').getAllKeys()), done(tx.objectStore('photos').getAllKeys())]);
  return { sending, photos };
};

/** What a write goes by, as it is before any of its transaction is made. */
const seen = (tx, { op, in: name, key, value }) => {
  switch (op) {
    case 'add': case 'swap': case 'rise': return done(tx.objectStore(name).get(key));
    case 'free': return done(tx.objectStore('sending').getKey(key));
    case 'owe': return done(tx.objectStore('photos').getKey(key));
    case 'keep': return done(tx.objectStore('taken').get(value));
    default: return undefined;
  }
};

/** The browser closed the database behind our back, as phones do in the background. */
const lost = (error) => error?.name === 'InvalidStateError' || error?.name === 'UnknownError';

export class Store {
  #opening = null;

  /** A tab that outlives its version of the program finds a later edition, which has every store it needs. */
  #open() {
    this.#opening ??= this.#openAs(EDITION)
      .catch((error) => { if (error?.name === 'VersionError') return this.#openAs(); throw error; })
      .catch((error) => { this.#opening = null; throw error; });
    return this.#opening;
  }

  #openAs(edition) {
    return new Promise((resolve, reject) => {
      const request = indexedDB.open(NAME, edition);
      request.onupgradeneeded = () => {
        const db = request.result;
        for (const name of STORES) if (!db.objectStoreNames.contains(name)) db.createObjectStore(name);
        for (const name of GONE) if (db.objectStoreNames.contains(name)) db.deleteObjectStore(name);
      };
      request.onsuccess = () => {
        const db = request.result;
        db.onclose = () => { this.#opening = null; };
        db.onversionchange = () => { db.close(); this.#opening = null; };
        resolve(db);
      };
      request.onerror = () => reject(request.error);
    });
  }

  /**
   * Runs work in one transaction. What writes resolves after that is complete: only then
   * is anything saved. A lost connection is opened again once.
   */
  async #run(stores, mode, durability, work) {
    for (let again = false; ; again = true) {
      try {
        return await this.#attempt(await this.#open(), stores, mode, durability, work);
      } catch (error) {
        if (again || !lost(error)) throw error;
        this.#opening = null;
      }
    }
  }

  #attempt(db, stores, mode, durability, work) {
    return new Promise((resolve, reject) => {
      const tx = db.transaction(stores, mode, { durability });
      let result;
      let failure;
      tx.oncomplete = () => resolve(result);
      tx.onabort = () => reject(tx.error ?? failure ?? new DOMException('aborted', 'AbortError')); // what the browser says comes before what followed from it
      work(tx).then((value) => {
        result = value;
        if (mode === 'readonly') resolve(value); // there is nothing to wait for
        else tx.commit?.(); // there is nothing to come, which the browser would ask for first
      }, (error) => {
        failure = error;
        try { tx.abort(); } catch { reject(error); }
      });
    });
  }

  #read(stores, work) { return this.#run(stores, 'readonly', 'default', work); }

  /** What an engine starts from. */
  startup() {
    return this.#read(['meta', 'jobs', 'pending', 'strays', 'sending', 'photos'], async (tx) => {
      const [device, names, lines, pending, strays, photos] = await Promise.all([
        done(tx.objectStore('meta').get('device')),
        done(tx.objectStore('jobs').getAllKeys()), done(tx.objectStore('jobs').getAll()),
        done(tx.objectStore('pending').getAllKeys()), done(tx.objectStore('strays').getAll()), photoKeys(tx),
      ]);
      const jobs = {};
      names.forEach((name, i) => { jobs[name] = unpack(lines[i]); });
      return { device: unpack(device), jobs, pending, strays: strays.map(unpack), photos };
    });
  }

  /** What did not get into a log: the keys of all entries not sent, and the strays; and the keys of photos. */
  waiting() {
    return this.#read(['pending', 'strays', 'sending', 'photos'], async (tx) => {
      const [pending, strays, photos] = await Promise.all([
        done(tx.objectStore('pending').getAllKeys()), done(tx.objectStore('strays').getAll()), photoKeys(tx),
      ]);
      return { pending, strays: strays.map(unpack), photos };
    });
  }

  /** How much the browser keeps for this address, and would keep, in bytes. */
  async room() {
    const { usage = 0, quota = 0 } = await navigator.storage?.estimate?.().catch(() => ({})) ?? {};
    return { usage: Math.round(usage), quota: Math.round(quota) };
  }

  /**
   * A job as it is at one moment: its line, last number, entries not sent, small photos;
   * and as one run of bytes the snapshot and the records in order.
   */
  job(job) {
    return this.#read(['jobs', 'numbers', 'snapshots', 'records', 'pending', 'small'], async (tx) => {
      const [line, number, snapshot, records, keys, entries, small] = await Promise.all([
        done(tx.objectStore('jobs').get(job)), done(tx.objectStore('numbers').get(job)),
        done(tx.objectStore('snapshots').get(job)), done(tx.objectStore('records').getAll(ofJob(job))),
        done(tx.objectStore('pending').getAllKeys(ofJob(job))), done(tx.objectStore('pending').getAll(ofJob(job))),
        done(tx.objectStore('small').getAllKeys(ofJob(job))),
      ]);
      return {
        line: unpack(line), number, texts: joined([snapshot ?? new ArrayBuffer(0), ...records]), small: small.map(([, hash]) => hash),
        pending: keys.map((key, i) => ({ key, text: unpack(entries[i]) })),
      };
    });
  }

  /**
   * Makes all writes of an engine's answer in one transaction, flushed to the
   * medium. Throws Outrun, and writes nothing, when another tab was first.
   * @param {{op: string, in: string, key: any, value: any, was?: string}[]} writes
   * @param {string} [sentForm] the path whose unsent form ends with this
   */
  apply(writes, sentForm) {
    return this.#run(WRITTEN, 'readwrite', 'strict', async (tx) => {
      // All that is to be seen first is asked for at once, and all that is written goes out
      // at once: what fails of it ends the transaction.
      const there = await Promise.all(writes.map((write) => seen(tx, write)));
      for (const [i, write] of writes.entries()) {
        const store = tx.objectStore(write.in);
        if (write.op === 'put') {
          store.put(pack(write.value), write.key);
        } else if (write.op === 'delete') {
          store.delete(write.key);
        } else if (write.op === 'free') { // another tab may have noted it as not sent
          if (there[i] === undefined) store.delete(write.key);
        } else if (write.op === 'owe') { // another tab may have let it go
          if (there[i] !== undefined) store.put(pack(''), write.key);
        } else if (write.op === 'clear') {
          store.delete(ofJob(write.key));
        } else if (write.op === 'add') {
          if (there[i] === undefined) store.add(pack(write.value), write.key);
          else if (unpack(there[i]) === write.value) return; // an attempt whose answer was lost had succeeded
          else throw new Outrun();
        } else if (write.op === 'swap') {
          const was = unpack(there[i]);
          if (was !== (write.was ?? '') && was !== write.value) throw new Outrun();
          store.put(pack(write.value), write.key);
        } else if (write.op === 'rise') {
          if (there[i] !== undefined && there[i] >= write.value) throw new Outrun();
          store.put(write.value, write.key);
        } else if (write.op === 'keep') {
          if (!there[i]) throw new Error('a photo is no longer there');
          store.put(there[i].whole, write.key);
          tx.objectStore('small').put(there[i].small, write.key);
          tx.objectStore('sending').put(pack(''), write.key);
          tx.objectStore('taken').delete(write.value);
        } else {
          throw new Error(`no such write: ${write.op}`);
        }
      }
      if (sentForm !== undefined) tx.objectStore('drafts').delete(sentForm);
    });
  }

  /** Photos that were taken at this path and are not saved, the first one first. */
  taken(path) {
    return this.#read(['taken'], async (tx) => {
      const rows = await done(tx.objectStore('taken').getAll(ofJob(path)));
      return rows.sort((a, b) => a.at - b.at).map((row) => row.photo);
    });
  }

  /** @param {{photo: {sha256: string}, whole: ArrayBuffer, small: ArrayBuffer, at: number}} row */
  take(path, row) {
    return this.#run(['taken'], 'readwrite', 'strict', (tx) => done(tx.objectStore('taken').put(row, [path, row.photo.sha256])));
  }

  untake(path, hash) {
    return this.#run(['taken'], 'readwrite', 'relaxed', (tx) => done(tx.objectStore('taken').delete([path, hash])));
  }

  async takenPicture(path, hash) {
    return (await this.#read(['taken'], (tx) => done(tx.objectStore('taken').get([path, hash]))))?.small;
  }

  /** A picture in photos or small. */
  picture(name, key) {
    return this.#read([name], (tx) => done(tx.objectStore(name).get(key)));
  }

  /**
   * Keeps a page as it is shown now, for the service worker to show at once at the next
   * launch (see sw.js). At an address that is not secure there is none.
   */
  async paint(path, title, html) {
    if (!globalThis.caches) return;
    const element = document.createElement('title');
    element.textContent = title;
    await (await caches.open(PAINTED)).put(path, new Response(element.outerHTML + html, { headers: { 'Content-Type': 'text/html; charset=utf-8' } }));
  }

  /** What was typed at this path and not sent. */
  async draft(path) {
    const text = await this.#read(['drafts'], async (tx) => unpack(await done(tx.objectStore('drafts').get(path))));
    return text ? JSON.parse(text) : null;
  }

  keepDraft(path, typed) {
    return this.#run(['drafts'], 'readwrite', 'relaxed', (tx) => done(tx.objectStore('drafts').put(pack(JSON.stringify(typed)), path)));
  }
}
