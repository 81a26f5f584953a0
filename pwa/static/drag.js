/**
 * Marks in a drawing that can be moved. A drawing says how its units become metres
 * (data-per-metre, data-zero, data-right, data-up), a form which of its fields take
 * them (data-axis) and which mark is its own (data-drags). What the metres mean, and
 * whether a mark may lie there, is decided by whoever reads the form.
 */

const pair = (text) => text.split(' ').map(Number);

export class Drag {
  #main;
  #held = null; // the mark that is moved

  constructor(main) {
    this.#main = main;
    main.addEventListener('pointerdown', (event) => this.#take(event));
    main.addEventListener('pointermove', (event) => this.#move(event));
    main.addEventListener('pointerup', (event) => this.#drop(event));
    main.addEventListener('pointercancel', (event) => this.#drop(event));
  }

  #take(event) {
    const mark = event.target.closest?.('[data-drag]');
    const sheet = mark?.closest('svg[data-per-metre]');
    const form = sheet && this.#main.querySelector(`form[data-drags="${CSS.escape(mark.dataset.drag)}"]`);
    const disc = form && mark.querySelector('.handle');
    if (!disc || event.button !== 0) return;
    event.preventDefault();
    mark.setPointerCapture(event.pointerId);
    mark.dataset.dragging = '';
    this.#held = {
      mark, sheet, form, pointer: event.pointerId,
      from: this.#on(sheet, event), at: [disc.cx.baseVal.value, disc.cy.baseVal.value],
    };
  }

  /** Where a pointer is on the sheet, in its own units. */
  #on(sheet, event) {
    const p = new DOMPoint(event.clientX, event.clientY).matrixTransform(sheet.getScreenCTM().inverse());
    return [p.x, p.y];
  }

  #move(event) {
    const held = this.#held;
    if (!held || event.pointerId !== held.pointer) return;
    const [x, y] = this.#on(held.sheet, event);
    const by = [x - held.from[0], y - held.from[1]];
    held.mark.setAttribute('transform', `translate(${by[0]} ${by[1]})`);
    const { perMetre, zero, right, up } = held.sheet.dataset;
    const [x0, y0] = pair(zero);
    this.#fill(held.form, right, (held.at[0] + by[0] - x0) / Number(perMetre));
    this.#fill(held.form, up, (y0 - held.at[1] - by[1]) / Number(perMetre));
    held.moved = true;
    held.form.dispatchEvent(new CustomEvent('moved', { bubbles: true }));
  }

  #fill(form, axis, metres) {
    const field = form.querySelector(`[data-axis="${CSS.escape(axis)}"]`);
    if (field) field.value = `${metres.toFixed(3)} m`;
  }

  #drop(event) {
    const held = this.#held;
    if (!held || event.pointerId !== held.pointer) return;
    this.#held = null;
    delete held.mark.dataset.dragging;
    if (held.moved) held.form.dispatchEvent(new CustomEvent('moved', { bubbles: true }));
  }
}
