/**
 * The exchange with the server. What to send and what an answer means is the
 * engine's; this makes the requests, writes what came of them, and tries again.
 */
import { Outrun } from './store.js';

/** A request that takes longer than this, in milliseconds, counts as no answer. */
const PATIENCE = 20_000;

/** While the page is seen, the server is asked for news this often. */
const LOOK = 30_000;

/** Longest wait between attempts. */
const LONGEST = 60_000;

/** After so many failures the wait grows no more where the server can be reached: the next attempt brings less. */
const BROKEN = 2;

export class Sync {
  #engine;
  #store;
  #say;
  #tabs;
  #page;
  #running = null;
  #again = false;
  #failures = 0;
  #broke = false; // the line carried a request of the last exchange and not another
  #timer = 0;

  /** The server may have a newer program than this one. */
  onBehind = () => {};

  constructor({ engine, store, say, tabs, page }) {
    this.#engine = engine;
    this.#store = store;
    this.#say = say;
    this.#tabs = tabs;
    this.#page = page;
  }

  start() {
    addEventListener('online', () => this.now());
    addEventListener('pageshow', (event) => { if (event.persisted) this.now(); });
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.now(); });
    this.now();
  }

  /** Begins an exchange, or one more after the one that runs. */
  now() {
    this.#again = true;
    this.#running ??= this.#loop().finally(() => { this.#running = null; });
    return this.#running;
  }

  async #loop() {
    clearTimeout(this.#timer);
    while (this.#again) {
      this.#again = false;
      let fine = false;
      try {
        fine = await this.#tabs.alone('sync', () => this.#exchange());
      } catch (error) {
        console.warn('exchange:', error);
      }
      this.#failures = fine ? 0 : Math.min(this.#failures + 1, this.#broke ? BROKEN : Infinity);
    }
    const longest = this.#failures ? Math.min(LONGEST, 1000 * 2 ** this.#failures) : LOOK;
    const wait = longest * (0.5 + Math.random() / 2); // so that phones do not come all at once
    this.#timer = setTimeout(() => { if (!document.hidden || this.#failures) this.now(); }, wait);
  }

  /** @returns {Promise<boolean>} whether it went through */
  async #exchange() {
    await this.#engine.call('begin', { ...await this.#store.waiting(), room: await this.#store.room() });
    this.#broke = false;
    for (let pieces = 0, carried = false; ;) {
      const next = await this.#engine.call('next');
      if (next.request?.piece && pieces++ && this.#again) return true; // what was recorded meanwhile goes first
      if (!next.request) {
        if (next.write) await this.#apply(next.write);
        // Something may have been saved while it was written.
        this.#say.set(next.write ? (await this.#engine.call('say', { about: '' })).say : next.say);
        await this.#page.refresh();
        return true;
      }
      const reply = await this.#ask(next.request);
      const answer = await this.#engine.call('answer', reply);
      this.#broke = carried && reply.status === 0;
      carried ||= reply.status !== 0;
      if (answer.write) {
        try {
          await this.#apply(answer.write);
        } catch (error) {
          if (!(error instanceof Outrun)) throw error;
          // Another tab was first: read what it wrote, and begin again at once.
          for (const job of answer.changed) await this.#engine.call('forget', { job });
          this.#again = true;
          return false;
        }
      }
      if (answer.forget) await this.#engine.call('forget', { job: answer.forget });
      if (answer.changed) {
        this.#tabs.tell(answer.changed);
        await this.#page.refresh();
      }
      this.#say.set(answer.say);
      if (answer.update) this.onBehind();
      if (answer.failed) return false;
    }
  }

  async #apply(write) {
    try {
      await this.#store.apply(write);
    } catch (error) {
      if (!(error instanceof Outrun)) this.#engine.restart(); // it knows more than is stored
      throw error;
    }
  }

  /** Makes one request. No answer of any kind is status 0. */
  async #ask({ method, url, body, piece }) {
    let headers = body ? { 'Content-Type': 'application/json' } : {};
    if (piece) {
      body = (await this.#store.picture('photos', piece.key))?.slice(piece.from, piece.to);
      if (!body) return { status: 0, body: '', gone: true };
      headers = { 'Content-Type': 'application/octet-stream', 'Upload-Offset': String(piece.from) };
    }
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const reply = await fetch(url, { method, body, headers, cache: 'no-store', credentials: 'same-origin', signal: stop.signal });
      return { status: reply.status, body: await reply.text() };
    } catch {
      return { status: 0, body: '' };
    } finally {
      clearTimeout(timer);
    }
  }
}
