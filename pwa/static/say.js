/** The status line. Its texts and markup come from the engine. */
export class Say {
  #element;
  #main = { html: '', tone: '', stay: false };
  #offers = new Map(); // by what each is about

  constructor(element) { this.#element = element; }

  /** @param {{html: string, tone: string, stay?: boolean}|undefined} what */
  set(what) {
    if (!what) return;
    this.#main = what;
    this.#show();
  }

  /** An offer stays behind whatever else is said, until it is taken back. */
  offer(about, what) {
    if (what) this.#offers.set(about, what);
    else this.#offers.delete(about);
    this.#show();
  }

  #show() {
    const all = [this.#main, ...this.#offers.values()];
    const html = all.map((one) => one.html).filter(Boolean).join(' ');
    if (this.#element.innerHTML !== html) this.#element.innerHTML = html;
    this.#element.dataset.tone = this.#main.tone;
    document.documentElement.toggleAttribute('data-stay', all.some((one) => one.stay)); // whoever stands in the middle of a form has to see it, too
  }
}
