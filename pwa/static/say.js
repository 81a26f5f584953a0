/** The status line. Its texts and markup come from the engine. */
export class Say {
  #element;
  #main = { html: '', tone: '' };
  #offers = new Map(); // by what each is about

  constructor(element) { this.#element = element; }

  /** @param {{html: string, tone: string}|undefined} what */
  set(what) {
    if (!what) return;
    this.#main = what;
    this.#show();
  }

  /** An offer stays behind whatever else is said, until it is taken back. */
  offer(about, what) {
    if (what) this.#offers.set(about, what.html);
    else this.#offers.delete(about);
    this.#show();
  }

  #show() {
    const html = [this.#main.html, ...this.#offers.values()].filter(Boolean).join(' ');
    if (this.#element.innerHTML !== html) this.#element.innerHTML = html;
    this.#element.dataset.tone = this.#main.tone;
    // Whoever stands in the middle of a form has to see it, too.
    document.documentElement.toggleAttribute('data-stay', this.#main.tone === 'refused' || this.#offers.has('changed'));
  }
}
