/**
 * The Go program in this page: loaded once, called with a name and JSON, and
 * started again from the storage when it fails. All it knows is in the storage.
 */

/** What a phone loads first, and the whole program, which has the pages for making a plan too. */
const PROGRAM = '@ENGINE@';
const WHOLE = '@WHOLE@';
const STARTER = '@RUNTIME@';

/** The edition of the commands that this script speaks; the program has the same. */
const EDITION = 3;

/** Records handed over at once while a job is loaded. */
const PIECE = 400;

export class Engine {
  #store;
  #version;
  #module = null; // compiled once, however often the program is started
  #running = null; // promise of the function that calls the program
  #loading = new Map(); // job → promise

  constructor(store, version) {
    this.#store = store;
    this.#version = version;
  }

  /** Starts downloading and compiling; errors show at the first call. */
  warm() {
    this.#start().catch(() => {});
  }

  #start() {
    this.#running ??= this.#instantiate().catch((error) => { this.#running = null; throw error; });
    return this.#running;
  }

  async #instantiate() {
    this.#module ??= WebAssembly.compileStreaming(fetch(PROGRAM)).catch((error) => { this.#module = null; throw error; });
    const [module, stored, room] = await Promise.all([this.#module, this.#store.startup(), this.#store.room(), import(STARTER)]);
    performance.mark('compiled');
    const go = new globalThis.Go();
    let call = null;
    globalThis.hangtrueStarted = (f) => { call = f; };
    go.run(await WebAssembly.instantiate(module, go.importObject)).finally(() => { this.restart(); });
    if (!call) throw new Error('the program did not start');
    const raw = (name, input) => JSON.parse(call(name, input));
    const persistent = await navigator.storage?.persisted?.() ?? false;
    const answer = raw('start', JSON.stringify({ ...stored, room, persistent, secure: isSecureContext, version: this.#version }));
    if (answer.fault) throw new Error(answer.fault);
    if (answer.edition !== EDITION) throw new Error(`the program speaks edition ${answer.edition}, this page ${EDITION}`);
    if (answer.write) await this.#store.apply(answer.write);
    performance.mark('started');
    return raw;
  }

  /** Drops the program; the next call starts it again from the storage. */
  restart() {
    this.#running = null;
    this.#loading.clear();
  }

  /**
   * Runs a command. What the program needs first is loaded; a program that failed
   * is started again once.
   * @returns {Promise<object>} see Answer in package engine
   */
  async call(name, input = {}) {
    for (let failed = false; ;) {
      try {
        const raw = await this.#start();
        const answer = raw(name, JSON.stringify(input));
        if (answer.fault) throw new Error(answer.fault);
        if (answer.whole && await this.#grow()) continue;
        if (!answer.need) return answer;
        await this.#load(raw, answer.need);
      } catch (error) {
        this.restart();
        if (failed) throw error;
        failed = true;
      }
    }
  }

  /** Goes on with the whole program; false where it cannot be fetched. */
  async #grow() {
    try {
      const module = WebAssembly.compileStreaming(fetch(WHOLE));
      await module;
      this.#module = module;
      this.restart();
      return true;
    } catch (error) {
      console.warn('the whole program:', error);
      return false;
    }
  }

  #load(raw, job) {
    if (!this.#loading.has(job)) {
      this.#loading.set(job, this.#loadOnce(raw, job).finally(() => this.#loading.delete(job)));
    }
    return this.#loading.get(job);
  }

  async #loadOnce(raw, job) {
    const { line, number, snapshot, records, pending, small } = await this.#store.job(job);
    for (let at = 0, last = false; !last; at += PIECE) {
      last = at + PIECE >= records.length;
      const piece = { job, records: records.slice(at, at + PIECE), first: at === 0, last, snapshot: at === 0 ? snapshot : '' };
      const answer = raw('load', JSON.stringify(last ? { ...piece, pending, line, number, small } : piece));
      if (answer.fault) throw new Error(answer.fault);
      if (answer.write) await this.#store.apply(answer.write);
    }
    performance.mark('loaded');
  }
}
