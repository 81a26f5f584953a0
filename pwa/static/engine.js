/**
 * The Go program in this page: loaded once, called with a name and JSON, and
 * started again from the storage when it fails. All it knows is in the storage.
 */

/** What a phone loads first, and the whole program, which has the pages for making a plan too. */
const PROGRAM = '@ENGINE@';
const WHOLE = '@WHOLE@';

/**
 * What the Go runtime is told. Its heap begins to be cleared at 16 MB, not at 4, so
 * that a launch is over before that is due, and grows to at most five times what is in
 * use; above 128 MB it is cleared more often instead.
 */
const RUNTIME = { GOGC: '400', GOMEMLIMIT: '128MiB' };

/** The edition of the commands that this script speaks; the program has the same. */
const EDITION = 4;

export class Engine {
  #store;
  #version;
  #module = null; // compiled once, however often the program is started
  #running = null; // promise of the function that calls the program
  #loading = new Map(); // job → promise
  #ahead = new Map(); // job → promise of its rows, read before the program asked for them

  constructor(store, version) {
    this.#store = store;
    this.#version = version;
  }

  /**
   * Starts compiling, and reads the rows of a job that will be wanted; errors show at
   * the first call.
   * @param {string} [job]
   */
  warm(job) {
    this.#start().catch(() => {});
    if (!job) return;
    const rows = this.#store.job(job);
    rows.catch(() => {});
    this.#ahead.set(job, rows);
  }

  #start() {
    this.#running ??= this.#instantiate().catch((error) => { this.#running = null; throw error; });
    return this.#running;
  }

  async #instantiate() {
    this.#module ??= WebAssembly.compileStreaming(fetch(PROGRAM)).catch((error) => { this.#module = null; throw error; });
    const stored = Promise.all([this.#store.startup(), this.#store.room(), navigator.storage?.persisted?.() ?? false]);
    stored.catch(() => {});
    const module = await this.#module;
    performance.mark('compiled');
    const go = new globalThis.Go();
    go.env = RUNTIME;
    let call = null;
    globalThis.hangtrueStarted = (f) => { call = f; };
    go.run(await WebAssembly.instantiate(module, go.importObject)).finally(() => { this.restart(); });
    if (!call) throw new Error('the program did not start');
    const raw = (name, input, data) => JSON.parse(call(name, JSON.stringify(input), data));
    const [startup, room, persistent] = await stored;
    const answer = raw('start', { ...startup, room, persistent, secure: isSecureContext, version: this.#version });
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
    this.#ahead.clear();
  }

  /**
   * Runs a command. What the program needs first is loaded; a program that failed
   * is started again once.
   * @returns {Promise<object>} see Answer in package engine
   */
  async call(name, input = {}) {
    for (let failed = false; ;) {
      try {
        if (name === 'forget') this.#ahead.clear();
        const raw = await this.#start();
        const answer = raw(name, input);
        if (answer.fault) throw new Error(answer.fault);
        if (answer.whole && await this.#grow()) continue;
        if (!answer.need) {
          this.#ahead.clear(); // from here on others may have changed what was read
          return answer;
        }
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
    const ahead = this.#ahead.get(job);
    this.#ahead.delete(job);
    const { texts, ...rows } = await (ahead ?? this.#store.job(job));
    const answer = raw('load', { job, ...rows }, texts);
    if (answer.fault) throw new Error(answer.fault);
    if (answer.write) await this.#store.apply(answer.write);
    performance.mark('loaded');
  }
}
