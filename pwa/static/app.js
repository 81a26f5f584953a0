import { Engine } from './engine.js';
import { News } from './news.js';
import { Page } from './page.js';
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
const page = new Page(document.getElementById('page'), { engine, store, say, tabs });
const sync = new Sync({ engine, store, say, tabs, page });
const news = new News({ sync, tabs });
const worker = new Worker({ engine, page, say });

page.acts = { sync: () => sync.now(), update: () => worker.update(), persist: () => page.persist(true), install: () => worker.install() };
page.onKept = () => sync.now();
page.onShown = () => worker.showInstall();

if (!new Guest(document.getElementById('page'), { engine, store }).start()) {
  engine.warm();
  await page.paint();
  await page.start();
  performance.mark('usable');
  sync.start();
  news.start();
  worker.start();
}
