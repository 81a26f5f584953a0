/**
 * The page on screen: which path, its content, its forms, history, focus and
 * scroll. Content comes from the engine; this only puts it in place.
 */
import { Drag } from './drag.js';
import { caret, collect, complain, refill, typed } from './forms.js';
import { base64 } from './photos.js';
import { Outrun } from './store.js';

/** Typing is kept on the storage this long after the last key, in milliseconds. */
const TYPING = 250;

/** An entry is made anew at most so often because another tab was first. */
const TRIES = 5;

/** Paths that the engine renders; everything else belongs to the server. */
const ours = (path) => path === '/' || path === '/you' || (path.startsWith('/jobs/') && !path.split('/').pop().includes('.'));

/** The job that a path is about, if it is. */
const jobOf = (path) => (/^\/jobs\/([^/]+)/.exec(path)?.[1]);

const utcNow = () => new Date().toISOString();

export class Page {
  acts = {};
  onKept = () => {};
  onShown = () => {};

  #main;
  #engine;
  #store;
  #say;
  #tabs;
  #photos;
  #path = location.pathname;
  #html = null; // what was put in place last
  #mark; // what its forms are filled in for, as the engine names it
  #turn = 0; // counts navigations, so that a slow answer cannot overtake a later one
  #y = null; // where to scroll, and that the focus goes to the page, once it is there
  #saving = false;
  #asked = false; // the browser, whether it keeps this phone's copy
  #frame = 0;
  #timer = 0;
  #fromServer = !navigator.serviceWorker?.controller; // else this document is the empty shell

  constructor(main, { engine, store, say, tabs, photos }) {
    this.#main = main;
    this.#engine = engine;
    this.#store = store;
    this.#say = say;
    this.#tabs = tabs;
    this.#photos = photos;
  }

  get path() { return this.#path; }

  /** Tells whether something is typed that is not sent. */
  get dirty() { return this.#main.querySelector('form[data-typed]') !== null; }

  /** Takes over links and forms and shows the page from the phone's copy. */
  async start() {
    history.scrollRestoration = 'manual';
    document.addEventListener('click', (event) => this.#click(event));
    document.addEventListener('submit', (event) => this.#submit(event));
    document.addEventListener('input', (event) => this.#input(event));
    document.addEventListener('change', (event) => this.#input(event));
    document.addEventListener('moved', (event) => this.#input(event)); // see drag.js
    new Drag(this.#main);
    this.#main.inert = false; // see sw.js
    addEventListener('popstate', (event) => this.#show(location.pathname, event.state?.y ?? 0));
    addEventListener('pagehide', () => this.#keepTyping());
    document.addEventListener('visibilitychange', () => { if (document.hidden) this.#keepTyping(); });
    this.#tabs.listen(async (jobs) => {
      for (const job of jobs) await this.#engine.call('forget', { job });
      await this.refresh();
    });
    this.#engine.warm(jobOf(this.#path));
    await this.#show(this.#path, null);
  }

  /** Draws the page again after news. Where someone is typing in it, it only tells of them. */
  async refresh() {
    if (this.#saving) return;
    if (!this.dirty) {
      await this.#show(this.#path, null);
      return;
    }
    await this.#keepTyping(); // another tab that saved this page has ended what was kept of it
    const turn = this.#turn;
    const answer = await this.#engine.call('page', { path: this.#path, taken: await this.#taken(this.#path) });
    await this.#noted(answer);
    if (turn === this.#turn && !this.#saving && answer.mark !== this.#mark) this.#say.offer('changed', (await this.#engine.call('say', { about: 'changed' })).say);
  }

  /** Draws the page again though someone is typing in it: that stays. */
  async look() {
    await this.#keepTyping();
    await this.#show(this.#path, 0);
  }

  /**
   * Shows a path. y is where to scroll; null leaves scroll and focus alone. What was taken
   * and typed there is read from the storage, unless it is known.
   * @param {number|null} y
   * @param {{taken: object[], draft: ?object}} [left]
   */
  async #show(path, y, left) {
    const turn = ++this.#turn;
    this.#path = path;
    this.#y = y ?? this.#y; // news that come while a page is drawn draw it in its stead
    const { taken, draft } = left ?? await this.#left(path);
    const answer = await this.#engine.call('page', { path, taken });
    const current = await this.#noted(answer);
    if (turn !== this.#turn) return;
    if (!current) {
      await this.#show(path, y, left);
      return;
    }
    this.#say.set(answer.say);
    if (this.#fromServer && (answer.empty || answer.status !== 200)) return; // the server's page knows more
    this.#fromServer = false;
    this.#mark = answer.mark;
    this.#say.offer('changed');
    this.#put(answer.title, answer.html, draft);
    if (this.#y !== null) {
      this.#main.focus({ preventScroll: true });
      scrollTo(0, this.#y);
      this.#y = null;
    }
    this.onShown();
    if (answer.status === 200) this.#keepShown(path, document.title, answer.html);
  }

  /** Keeps the page as it is shown, after whatever waits for it to be shown. */
  #keepShown(path, title, html) {
    setTimeout(() => { if (!this.#tabs.left) this.#store.paint(path, title, html).catch(() => {}); });
  }

  /** Puts content in place. What is typed now, or else was kept, stays in its fields. */
  #put(title, html, draft) {
    const now = typed(this.#main);
    if (html !== this.#html && !this.#like(html)) {
      const goBack = caret(this.#main);
      this.#main.innerHTML = html;
      for (const form of refill(this.#main, { ...draft, ...now })) this.#judge(form);
      goBack();
    } else if (draft) {
      for (const form of refill(this.#main, { ...draft, ...now })) this.#judge(form);
    }
    this.#html = html;
    document.title = title;
    this.#photos.show(this.#main, this.#path);
  }

  /** Tells whether the document came with this content, as the page was last seen. */
  #like(html) {
    if (this.#html !== null) return false;
    const other = this.#main.cloneNode(false);
    other.innerHTML = html;
    return this.#main.isEqualNode(other);
  }

  /**
   * Writes down what the drawing of a page has changed, if anything.
   * @returns {Promise<boolean>} whether the page shows what is stored; else another tab was first
   */
  async #noted({ write, changed }) {
    if (!write) return true;
    try {
      await this.#store.apply(write);
      this.#tabs.tell(changed);
    } catch (error) {
      if (error instanceof Outrun) {
        for (const job of changed) await this.#engine.call('forget', { job });
        return false;
      }
      this.#engine.restart(); // it knows more than is stored
    }
    return true;
  }

  async #left(path) {
    const [taken, draft] = await Promise.all([this.#taken(path), this.#store.draft(path).catch(() => null)]);
    return { taken, draft };
  }

  #taken(path) { return this.#store.taken(path).catch(() => []); }

  async #go(path) {
    await this.#keepTyping();
    this.#forgetTyped();
    history.replaceState({ y: scrollY }, '');
    history.pushState({ y: 0 }, '', path);
    await this.#show(location.pathname, 0);
  }

  #forgetTyped() {
    for (const form of this.#main.querySelectorAll('form[data-typed]')) delete form.dataset.typed;
  }

  #click(event) {
    const button = event.target.closest?.('[data-act]');
    if (button) {
      event.preventDefault();
      this.acts[button.dataset.act]?.(button);
      return;
    }
    const link = event.target.closest?.('a[href]');
    if (!link || event.defaultPrevented || event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
    if (link.target || link.hasAttribute('download') || link.origin !== location.origin || !ours(link.pathname)) return;
    if (link.hash && link.pathname === location.pathname) return;
    event.preventDefault();
    this.#go(link.pathname);
  }

  async #submit(event) {
    const form = event.target;
    if (!this.#main.contains(form) || event.defaultPrevented) return;
    event.preventDefault();
    if (this.#saving) return;
    this.#saving = true;
    clearTimeout(this.#timer); // or the timer could keep as unsent what is being sent
    try {
      await this.#save(form, collect(form, event.submitter));
      performance.measure('save', { start: event.timeStamp, end: performance.now() });
    } catch (error) {
      await this.#unsaved(error);
    } finally {
      this.#saving = false;
      await this.#keepTyping(); // what could not be saved
    }
  }

  /** Turns a form into an entry, and says "saved" only after it is on the storage. */
  async #save(form, values) {
    const path = this.#path;
    const taken = this.#main.querySelector('[data-taken]') ? await this.#taken(path) : [];
    const made = await this.#write(path, values, taken);
    if (made.problems) {
      complain(form, made.problems);
      return;
    }
    if (made.go) this.#forgetTyped();
    else delete form.dataset.typed; // what is typed in another form of the page stays
    const answer = await this.#engine.call('kept', { id: made.id, job: made.job });
    if (made.go) history.pushState({ y: 0 }, '', made.go);
    const left = made.go || taken.length ? undefined : { taken, draft: null }; // what was kept of this page's forms is here, or sent
    await this.#show(made.go ? location.pathname : path, 0, left);
    this.#say.set(answer.say);
    if (answer.changed) this.#tabs.tell(answer.changed);
    this.onKept();
    if (made.id) this.persist(false);
  }

  /**
   * Makes the entry and writes it. Where another tab was first it is made anew, on top of
   * what that one wrote; more than once only while several tabs are being saved in.
   */
  async #write(path, values, taken) {
    for (let tries = TRIES; ; tries--) {
      const made = await this.#engine.call('submit', { path, form: values, taken, now: utcNow() });
      if (made.problems) return made;
      try {
        await this.#photos.fitting(() => this.#store.apply(made.write, path));
        return made;
      } catch (error) {
        if (!(error instanceof Outrun) || tries === 1) throw error;
        await this.#engine.call('forget', { job: made.job });
      }
    }
  }

  #input(event) {
    if (event.target.type === 'file') {
      if (event.type === 'change') this.#chosen(event.target);
      return;
    }
    const form = event.target.form ?? event.target.closest('form');
    if (!form || !this.#main.contains(form)) return;
    form.dataset.typed = '';
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#keepTyping(), TYPING);
    cancelAnimationFrame(this.#frame);
    this.#frame = requestAnimationFrame(() => this.#judge(form, event.timeStamp));
  }

  /** Shows what the engine thinks of what is typed so far, since the time of a key. */
  async #judge(form, since) {
    this.#place(form, await this.#engine.call('draft', { path: this.#path, form: collect(form) }));
    if (since !== undefined) performance.measure('verdict', { start: since, end: performance.now() });
  }

  #chosen(input) {
    if (!input.files?.[0]) return;
    if (input.dataset.take) this.#take(input.form, () => this.#photos.take(this.#path, input));
    else this.#read(input);
  }

  /** Takes a photo for a form, or away from it, and shows what the form has. */
  async #take(form, work) {
    form.dataset.typed = '';
    try {
      this.#place(form, await work());
    } catch (error) {
      await this.#unsaved(error);
    }
  }

  untake(button) {
    const { form } = button;
    return this.#take(form, () => this.#photos.untake(this.#path, form.dataset.form, button.dataset.photo));
  }

  /** Says why nothing was saved. */
  async #unsaved(error) {
    const about = error?.name === 'QuotaExceededError' ? 'full' : 'unsaved';
    this.#say.set((await this.#engine.call('say', { about })).say);
    console.warn('not saved:', error);
  }

  /** Hands a chosen file to the engine and shows what it says; one over its bound is not read. */
  async #read(input) {
    const file = input.files[0];
    const data = file.size <= Number(input.dataset.most) ? await file.arrayBuffer() : new ArrayBuffer(0);
    const answer = await this.#engine.call('file', { path: this.#path, data: base64(data) });
    this.#place(input.form, answer);
    if (Object.keys(answer.parts ?? {}).some((id) => id.startsWith('v-'))) { // as if it had been typed
      input.form.dataset.typed = '';
      await this.#judge(input.form);
    }
  }

  /**
   * Puts the parts of an answer in their places: v- and a field's name is its value, any
   * other id an element's content, unless somebody has hold of a mark in it.
   */
  #place(form, answer) {
    if (!form.isConnected) return;
    for (const [id, html] of Object.entries(answer.parts ?? {})) {
      if (id.startsWith('v-')) {
        const field = form.elements[id.slice(2)];
        if (field && field !== document.activeElement) field.value = html;
        continue;
      }
      const place = form.querySelector(`[id="${CSS.escape(id)}"]`) ?? document.getElementById(id);
      if (place && place.innerHTML !== html && !place.querySelector('[data-dragging]')) place.innerHTML = html;
    }
    this.#photos.show(form, this.#path);
  }

  async #keepTyping() {
    clearTimeout(this.#timer);
    if (this.dirty && !this.#saving) await this.#store.keepDraft(this.#path, typed(this.#main)).catch(() => {});
  }

  /**
   * Asks the browser to keep this phone's copy, the first time something is on it
   * that is nowhere else.
   */
  async persist(show) {
    if (!navigator.storage?.persist || (this.#asked && !show)) return;
    this.#asked = true;
    const persistent = await navigator.storage.persisted() || await navigator.storage.persist();
    await this.#engine.call('persist', { persistent });
    if (show) await this.refresh();
  }

  /** Everything typed is on the storage: the page may be left. */
  settle() { return this.#keepTyping(); }
}
