/**
 * What the tabs of this phone tell each other, and the locks that keep them from
 * doing the same work at once. Both are missing at an address that is not secure;
 * there every tab works alone, and the storage still refuses a number used twice.
 */
export class Tabs {
  #channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel('hangtrue') : null;

  constructor() {
    this.#channel?.addEventListener('message', ({ data }) => { if (data.left) location.replace('/pair'); });
  }

  /** Has the other tabs leave what they show: this phone keeps nothing of it any more. */
  leave() { this.#channel?.postMessage({ left: true }); }

  /** Tells the other tabs that these jobs have changed in the storage. */
  tell(jobs) { this.#channel?.postMessage({ jobs }); }

  /** @param {(jobs: string[]) => void} what */
  listen(what) {
    if (this.#channel) this.#channel.onmessage = (event) => what(event.data.jobs ?? []);
  }

  /** Runs work while no other tab runs work of this name. */
  alone(name, work) {
    return navigator.locks ? navigator.locks.request(`hangtrue-${name}`, work) : work();
  }
}
