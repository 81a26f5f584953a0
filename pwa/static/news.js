/**
 * News from the server while the page is seen: a stream of hints, each of which
 * begins an exchange. The exchange looks by itself as well, so nothing is lost where
 * there is no stream, only later.
 *
 * One tab of the phone listens for all of them: what its exchange brings, the tabs
 * tell each other. A stream takes one of the few connections that a browser makes.
 */

const ADDRESS = '/api/news';

/** Longest wait before a stream that failed is opened again, in milliseconds. */
const LONGEST = 60_000;

export class News {
  #sync;
  #tabs;
  #turn = null; // promise while this tab listens or waits for its turn
  #failures = 0;

  constructor({ sync, tabs }) {
    this.#sync = sync;
    this.#tabs = tabs;
  }

  start() {
    document.addEventListener('visibilitychange', () => this.#listen());
    this.#listen();
  }

  #listen() {
    if (document.hidden || this.#turn || !('EventSource' in globalThis)) return;
    this.#turn = this.#tabs.alone('news', () => this.#lead()).then(() => {
      this.#turn = null;
      this.#listen(); // it may have been hidden and be seen again
    }, (error) => {
      this.#turn = null;
      console.warn('news:', error);
    });
  }

  /** Listens until the page is hidden. */
  async #lead() {
    while (!document.hidden) {
      await this.#stream();
      if (this.#failures) await this.#unlessHidden(Math.min(LONGEST, 1000 * 2 ** this.#failures) * (0.5 + Math.random() / 2));
    }
  }

  /** One stream, which the browser opens again each time it ends as it should. */
  #stream() {
    return new Promise((end) => {
      const source = new EventSource(ADDRESS);
      let open = false;
      const close = () => {
        source.close();
        document.removeEventListener('visibilitychange', hide);
        end();
      };
      const hide = () => { if (document.hidden) close(); };
      document.addEventListener('visibilitychange', hide);
      source.onopen = () => { open = true; this.#failures = 0; };
      source.onmessage = () => this.#sync.now();
      source.onerror = () => {
        const ended = open && source.readyState === EventSource.CONNECTING;
        open = false;
        if (ended) return;
        this.#failures++;
        close();
      };
    });
  }

  /** Waits, but no longer than the page is seen. */
  #unlessHidden(time) {
    return new Promise((end) => {
      const stop = () => {
        clearTimeout(timer);
        document.removeEventListener('visibilitychange', stop);
        end();
      };
      const timer = setTimeout(stop, time);
      document.addEventListener('visibilitychange', stop);
    });
  }
}
