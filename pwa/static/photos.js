/**
 * Photos: taken with the camera and drawn anew in the size that the page asks for, by
 * which everything else that a camera writes into a file is lost; and shown, out of the
 * phone's storage or else from the server.
 */

const TYPE = 'image/jpeg';

/** Freed at once when the storage is full, in bytes. */
const ROOM = 16 << 20;

/** Bytes as a text that JSON can carry. */
export function base64(buffer) {
  const data = new Uint8Array(buffer);
  let text = '';
  for (let i = 0; i < data.length; i += 0x8000) text += String.fromCharCode(...data.subarray(i, i + 0x8000));
  return btoa(text);
}

const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;

/** The picture upright, its longer side at most this many pixels. */
function draw(image, side) {
  const { naturalWidth: width, naturalHeight: height } = image;
  const scale = Math.min(1, side / Math.max(width, height));
  const canvas = document.createElement('canvas');
  canvas.width = Math.max(1, Math.round(width * scale));
  canvas.height = Math.max(1, Math.round(height * scale));
  const context = canvas.getContext('2d');
  context.fillStyle = '#ffffff';
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.imageSmoothingQuality = 'high';
  context.drawImage(image, 0, 0, canvas.width, canvas.height);
  return canvas;
}

/** A drawing as a file of at most so many bytes, where that can be had. */
async function encode(canvas, quality, most) {
  for (;;) {
    const blob = await new Promise((made) => { canvas.toBlob(made, TYPE, quality); });
    if (blob?.type !== TYPE) throw new Error('this browser writes no pictures');
    if (blob.size <= most || quality < 0.4) return blob.arrayBuffer();
    quality -= 0.15;
  }
}

export class Photos {
  #engine;
  #store;

  constructor({ engine, store }) {
    this.#engine = engine;
    this.#store = store;
  }

  /**
   * Keeps the photo that was chosen until the form is saved. What the form shows of it
   * is the engine's answer.
   * @param {string} path
   * @param {HTMLInputElement} input
   */
  async take(path, input) {
    const { take: form, side, quality, most, small } = input.dataset;
    const file = input.files[0];
    const taken = await this.#store.taken(path);
    let whole = new ArrayBuffer(0);
    let little = whole;
    const url = URL.createObjectURL(file);
    try {
      const image = new Image();
      image.src = url;
      await image.decode();
      whole = await encode(draw(image, Number(side)), Number(quality) / 100, Number(most));
      little = await encode(draw(image, Number(small)), Number(quality) / 100, Number(most));
    } catch (error) {
      console.warn('no picture:', error); // the engine says so
    } finally {
      URL.revokeObjectURL(url);
      input.value = '';
    }
    const answer = await this.#engine.call('photo', { path, form, taken, data: base64(whole) });
    if (!answer.photo) return answer;
    if (answer.data) whole = bytes(answer.data);
    await this.fitting(() => this.#store.take(path, { photo: answer.photo, whole, small: little, at: Date.now() }));
    return this.taken(path, form);
  }

  /** Drops a photo that was taken and not saved. */
  async untake(path, form, hash) {
    await this.#store.untake(path, hash);
    return this.taken(path, form);
  }

  async taken(path, form) {
    return this.#engine.call('taken', { path, form, taken: await this.#store.taken(path) });
  }

  /** Does what needs room on the storage, and does it again once room was made. */
  async fitting(work) {
    try {
      return await work();
    } catch (error) {
      if (error?.name !== 'QuotaExceededError' || !await this.release(ROOM)) throw error;
      return work();
    }
  }

  /**
   * Lets go of photos that the server has: so many bytes, or all.
   * @returns {Promise<boolean>} whether there was one
   */
  async release(size = 0) {
    const { write = [] } = await this.#engine.call('release', { bytes: size });
    await this.#write(write);
    return write.length > 0;
  }

  /** Sends all photos of this phone again. */
  async resend() {
    const { write = [], say } = await this.#engine.call('resend');
    await this.#write(write);
    return say;
  }

  async #write(write) {
    try {
      await this.#store.apply(write);
    } catch (error) {
      this.#engine.restart(); // it knows more than is stored
      throw error;
    }
  }

  /** Puts pictures where the page has places for them. */
  show(root, path) {
    for (const image of root.querySelectorAll('img[data-photo]:not([src]), img[data-taken]:not([src])')) this.#show(image, path);
  }

  async #show(image, path) {
    const { photo, job, file, taken, whole } = image.dataset;
    const gone = image.closest('li, div')?.querySelector('p[hidden]');
    const kept = (store) => () => this.#store.picture(store, [job, photo]);
    const sources = taken
      ? [() => this.#store.takenPicture(path, taken)]
      : whole === undefined ? [kept('small'), kept('photos'), async () => file] : [kept('photos'), async () => file, kept('small')];
    for (const source of sources) {
      const found = await source().catch(() => null);
      if (found && image.isConnected && await this.#load(image, found)) return;
    }
    image.removeAttribute('src'); // the next time it may be there
    image.hidden = true;
    if (gone) gone.hidden = false;
  }

  /** @returns {Promise<boolean>} whether the picture can be shown */
  #load(image, found) {
    const url = typeof found === 'string' ? found : URL.createObjectURL(new Blob([found], { type: TYPE }));
    return new Promise((end) => {
      image.onload = () => end(true);
      image.onerror = () => end(false);
      image.hidden = false;
      image.src = url;
    }).finally(() => { if (url !== found) URL.revokeObjectURL(url); });
  }
}
