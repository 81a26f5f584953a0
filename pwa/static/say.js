/** The status line. Its texts and markup come from the engine. */
export class Say {
  #element;
  #main = { html: '', tone: '' };
  #offer = '';

  constructor(element) { this.#element = element; }

  /** @param {{html: string, tone: string}|undefined} what */
  set(what) {
    if (!what) return;
    this.#main = what;
    this.#show();
  }

  /** An offer stays behind whatever else is said. */
  offer(what) {
    this.#offer = what?.html ?? '';
    this.#show();
  }

  #show() {
    const html = [this.#main.html, this.#offer].filter(Boolean).join(' ');
    if (this.#element.innerHTML !== html) this.#element.innerHTML = html;
    this.#element.dataset.tone = this.#main.tone;
  }
}
