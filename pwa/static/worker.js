/**
 * The service worker seen from the page: registering it, offering a new version,
 * and putting the program on the home screen.
 */
export class Worker {
  #engine;
  #page;
  #say;
  #registration = null;
  #prompt = null;
  #reloaded = false;

  constructor({ engine, page, say }) {
    this.#engine = engine;
    this.#page = page;
    this.#say = say;
    addEventListener('beforeinstallprompt', (event) => {
      event.preventDefault();
      this.#prompt = event;
      this.showInstall();
    });
  }

  async start() {
    const workers = navigator.serviceWorker;
    if (!workers) return; // not a secure address; the page about the phone says so
    // One that is taken away leaves the page as it is.
    workers.addEventListener('controllerchange', () => { if (workers.controller) this.#reload(); });
    try {
      this.#registration = await workers.register('/sw.js', { updateViaCache: 'none' });
    } catch (error) {
      console.warn('no service worker:', error);
      return;
    }
    workers.controller?.postMessage('tidy');
    this.#watch(this.#registration.installing);
    this.#registration.addEventListener('updatefound', () => this.#watch(this.#registration.installing));
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.look(); });
    this.#offer();
  }

  /** Sees whether there is a new version. Out of reach of the server there is none. */
  look() { this.#registration?.update().catch(() => {}); }

  #watch(worker) {
    worker?.addEventListener('statechange', () => { if (worker.state === 'installed') this.#offer(); });
  }

  /** A first version has no page to replace; a later one is offered. */
  async #offer() {
    if (!this.#registration.waiting || !navigator.serviceWorker.controller) return;
    this.#say.offer('update', (await this.#engine.call('say', { about: 'update' })).say);
  }

  /** The person wants the new version: what is typed is kept, then it takes over. */
  async update() {
    await this.#page.settle();
    this.#registration?.waiting?.postMessage('use');
  }

  /** Once, and in a tab where someone is typing only after that is done. */
  #reload() {
    if (this.#reloaded) return;
    if (this.#page.dirty) {
      setTimeout(() => this.#reload(), 1000);
      return;
    }
    this.#reloaded = true;
    location.reload();
  }

  showInstall() {
    const place = document.getElementById('install');
    if (place) place.hidden = !this.#prompt;
  }

  async install() {
    await this.#prompt?.prompt();
    this.#prompt = null;
    this.showInstall();
  }
}
