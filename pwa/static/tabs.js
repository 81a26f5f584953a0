/**
 * What the tabs of this phone tell each other, and the locks that keep them from
 * doing the same work at once. Both are missing at an address that is not secure;
 * there every tab works alone, and the storage still refuses a number used twice.
 */
export class Tabs {
  #channel = 'BroadcastChannel' in globalThis ? new BroadcastChannel('hangtrue') : null;

  /** Tells whether another tab has taken everything off this phone. */
  left = false;

  constructor() {
    this.#channel?.addEventListener('message', ({ data }) => {
      if (!data.left) return;
      this.left = true;
      location.replace('/pair');
    });
  }

  /** Has the other tabs leave what they show: this phone keeps nothing of it any more. */
  leave() { this.#channel?.postMessage({ left: true }); }

  /** Tells the other tabs that these jobs have changed in the storage. */
  tell(jobs) { this.#channel?.postMessage({ jobs }); }

  /** @param {(jobs: string[]) => void} what */
  listen(what) {
    this.#channel?.addEventListener('message', ({ data }) => { if (data.jobs) what(data.jobs); });
  }

  /** Runs work while no other tab runs work of this name. */
  alone(name, work) {
    return navigator.locks ? navigator.locks.request(`hangtrue-${name}`, work) : work();
  }
}
