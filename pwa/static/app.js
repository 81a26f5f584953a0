import { Engine } from './engine.js';
import { News } from './news.js';
import { Page } from './page.js';
import { Photos } from './photos.js';
import { Guest } from './pair.js';
import { Say } from './say.js';
import { Store } from './store.js';
import { Sync } from './sync.js';
import { Tabs } from './tabs.js';
import { Worker } from './worker.js';

const store = new Store();
const tabs = new Tabs();
const say = new Say(document.getElementById('say'));
const engine = new Engine(store, document.body.dataset.version);
const photos = new Photos({ engine, store });
const page = new Page(document.getElementById('page'), { engine, store, say, tabs, photos });
const sync = new Sync({ engine, store, say, tabs, page });
const news = new News({ sync, tabs });
const worker = new Worker({ engine, page, say });

page.acts = {
  sync: () => sync.now(), update: () => worker.update(), persist: () => page.persist(true), install: () => worker.install(), look: () => page.look(),
  untake: (button) => page.untake(button),
  release: async () => { await photos.release(); await page.refresh(); },
  resend: async () => { say.set(await photos.resend()); sync.now(); },
};
page.onKept = () => sync.now();
page.onShown = () => worker.showInstall();
sync.onBehind = () => worker.look();

if (!new Guest(document.getElementById('page'), { engine, store, tabs }).start()) {
  performance.mark('painted'); // the document came with the page as it was last seen
  await page.start();
  performance.mark('usable');
  sync.start();
  news.start();
  worker.start();
}
