/**
 * The pages about who may come in. They are the server's alone: a form goes to it
 * as JSON, and what to show comes back. The secret of a code or a link is in the
 * address's fragment, which no browser sends; it is taken out of the address at once.
 */
import { collect } from './forms.js';

const PAGES = ['/pair', '/view', '/unpair', '/devices'];

/** Puts what this program rendered, here or on the server, into an element. */
const fill = (element, html) => { element.innerHTML = html; };

export class Guest {
  #main;
  #engine;
  #store;
  #tabs;
  #secret = '';
  #busy = false;

  constructor(main, { engine, store, tabs }) {
    this.#main = main;
    this.#tabs = tabs;
    this.#engine = engine;
    this.#store = store;
  }

  /**
   * Takes over a page of the server's.
   * @returns {boolean} whether this is one
   */
  start() {
    if (!PAGES.includes(location.pathname)) return false;
    document.addEventListener('submit', (event) => this.#submit(event));
    addEventListener('hashchange', () => this.#read());
    this.#open().catch((error) => console.warn('storage:', error)).finally(() => performance.mark('usable'));
    return true;
  }

  /** Takes the secret, and shows the page itself where the server was out of reach and the document is the empty shell. */
  async #open() {
    if (!this.#main.querySelector('h1')) {
      const { title, html } = await this.#engine.call('page', { path: location.pathname });
      fill(this.#main, html);
      document.title = title;
    }
    this.#read();
    await this.#prepare();
  }

  #read() {
    if (location.hash.length < 2) return;
    this.#secret = location.hash.slice(1);
    history.replaceState(null, '', location.pathname);
    this.#show('field-code', false);
    this.#show('scanned', true);
  }

  #show(id, on) {
    const element = document.getElementById(id);
    if (element) element.hidden = !on;
  }

  /** What the page asks of the phone's own storage. */
  async #prepare() {
    if (location.pathname === '/unpair') {
      const { pending, photos } = await this.#store.waiting();
      const waiting = pending.length + photos.sending.length;
      this.#show('settled', waiting === 0);
      this.#show('waiting', waiting > 0);
      const count = document.getElementById('count');
      if (count) count.textContent = waiting;
    }
    if (location.pathname === '/pair') {
      this.#engine.warm();
      const who = document.getElementById('who');
      const { device } = await this.#store.startup();
      if (who && !who.value && device) who.value = JSON.parse(device).who ?? '';
    }
  }

  async #submit(event) {
    const form = event.target;
    if (!form.dataset.post || !this.#main.contains(form)) return;
    event.preventDefault();
    if (this.#busy) return;
    this.#busy = true;
    try {
      await this.#send(form, Object.fromEntries(Object.entries(collect(form, event.submitter)).map(([name, values]) => [name, values[0]])));
    } finally {
      this.#busy = false;
    }
  }

  async #send(form, values) {
    const to = form.dataset.post;
    if (to === '/api/pair') Object.assign(values, { device: await this.#device() }, this.#secret && { code: this.#secret });
    if (to === '/api/view') values.link = this.#secret;
    let reply;
    let answer;
    try {
      reply = await fetch(to, { method: 'POST', body: JSON.stringify(values), headers: { 'Content-Type': 'application/json' }, cache: 'no-store', credentials: 'same-origin' });
      answer = await reply.json();
    } catch {
      this.#show('silence', true);
      return;
    }
    this.#show('silence', false);
    const place = form.querySelector('[id^="p-form"]') ?? this.#main.querySelector('[id^="p-form"]');
    if (place) place.textContent = reply.ok ? '' : answer.detail ?? answer.title;
    if (!reply.ok) {
      this.#secret = ''; // the code may be typed instead
      this.#show('field-code', true);
      this.#show('scanned', false);
      return;
    }
    await this.#done(form, to, values, answer);
  }

  async #done(form, to, values, answer) {
    if (to === '/api/pair') {
      const form = { who: [answer.who], role: [answer.role] };
      const made = await this.#engine.call('submit', { path: '/you', form, now: new Date().toISOString() });
      if (made.write) await this.#store.apply(made.write);
      location.replace('/');
    } else if (to === '/api/view') {
      location.replace(`/jobs/${answer.job}`);
    } else if (to === '/api/unpair') {
      if (values.data === 'clear') await this.#clear();
      location.replace('/pair');
    } else if (answer.html) {
      fill(form.querySelector('[data-answer]'), answer.html);
    } else {
      location.reload();
    }
  }

  /** The id that this phone's entries have; a new phone gets one. */
  async #device() {
    if (!(await this.#store.startup()).device) await this.#engine.call('say');
    return JSON.parse((await this.#store.startup()).device).id;
  }

  /** Not every browser heeds the server's word to clear what it keeps. */
  async #clear() {
    this.#tabs.leave();
    const registrations = await navigator.serviceWorker?.getRegistrations() ?? [];
    await Promise.all(registrations.map((registration) => registration.unregister()));
    await new Promise((resolve) => {
      const request = indexedDB.deleteDatabase('hangtrue');
      request.onsuccess = request.onerror = request.onblocked = resolve;
    });
    for (const name of await globalThis.caches?.keys() ?? []) await caches.delete(name);
  }
}
