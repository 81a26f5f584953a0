/**
 * What the tests look for in a page: whether it fits the screen, whether fingers can
 * hit what they should, and what the keyboard reaches. Each function gives a list of
 * what is wrong, as sentences.
 */
(() => {
  const CONTROLS = 'a[href], area[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex], [contenteditable]';
  const TOUCH = 44; // CSS pixels: WCAG 2.2, 2.5.5
  const LEAST = 24; // CSS pixels: WCAG 2.2, 2.5.8
  const TEXT = 12; // CSS pixels
  const SLACK = 0.6; // browsers lay out in fractions of a pixel

  const box = (e) => e.getBoundingClientRect();
  const visible = (e) => e.checkVisibility({ visibilityProperty: true }) && box(e).width > 0 && box(e).height > 0;
  const name = (e) => {
    const classes = [...e.classList].map((c) => '.' + c).join('');
    const text = (e.textContent || e.getAttribute('name') || '').trim().replace(/\s+/g, ' ').slice(0, 40);
    return `${e.localName}${e.id && '#' + e.id}${classes} "${text}"`;
  };
  const number = (x) => Math.round(x * 10) / 10;
  /** A link that stays outside the screen until it has the focus. */
  const waiting = (e) => e.matches('.skip, .skip *') && box(e).right <= 0;

  /** The box around an element that may be moved sideways under a name of its own. */
  const scroller = (e) => {
    for (let p = e.parentElement; p && p !== document.body; p = p.parentElement) {
      if (/auto|scroll/.test(getComputedStyle(p).overflowX)) return p;
    }
    return null;
  };
  const announced = (e) => e.getAttribute('role') === 'region' && (e.hasAttribute('aria-label') || e.hasAttribute('aria-labelledby')) && e.tabIndex >= 0;

  const ownText = (e) => [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());

  /** Nothing is wider than the screen, cut off, spilled or too small to read. */
  function fit() {
    const wrong = [];
    const root = document.scrollingElement;
    const width = root.clientWidth;
    if (root.scrollWidth > width) wrong.push(`the page is ${root.scrollWidth} wide on a screen of ${width}`);
    const outside = (e) => box(e).right > width + SLACK || box(e).left < -SLACK;
    const paper = document.createElement('canvas').getContext('2d');
    for (const e of document.body.querySelectorAll('*')) {
      if (!visible(e) || waiting(e)) continue;
      const drawing = e.ownerSVGElement;
      const style = getComputedStyle(e);
      if (!drawing && outside(e) && !outside(e.parentElement)) {
        const around = scroller(e);
        if (!around) wrong.push(`${name(e)} reaches from ${number(box(e).left)} to ${number(box(e).right)} on a screen of ${width}`);
        else if (!announced(around)) wrong.push(`${name(around)} can be moved sideways but is no region with a name and a place among the Tab stops`);
      }
      if (drawing && e.localName === 'text') {
        const [t, s] = [box(e), box(drawing)];
        if (t.left < s.left - 1 || t.right > s.right + 1 || t.top < s.top - 1 || t.bottom > s.bottom + 1) wrong.push(`${name(e)} runs out of its drawing`);
      }
      if (ownText(e) && !e.closest('.paper')) { // a sheet is shown as it will be printed, and is made larger to be read
        const m = drawing ? e.getScreenCTM() : null;
        const size = parseFloat(style.fontSize) * (m ? Math.sqrt(Math.abs(m.a * m.d - m.b * m.c)) : 1);
        if (size < TEXT - 0.05) wrong.push(`${name(e)} is ${number(size)} pixels high`);
      }
      if (drawing) continue;
      const cut = /hidden|clip/.test(style.overflowX + style.overflowY) || e.matches('button, input');
      const over = e.scrollWidth > e.clientWidth + 1;
      if (cut && (over || e.scrollHeight > e.clientHeight + 1) && e.localName !== 'svg') wrong.push(`${name(e)} is cut off: ${e.scrollWidth} by ${e.scrollHeight} in ${e.clientWidth} by ${e.clientHeight}`);
      else if (over && e.clientWidth > 0 && ownText(e) && !/auto|scroll/.test(style.overflowX)) wrong.push(`${name(e)} spills out of its box: ${e.scrollWidth} in ${e.clientWidth}`);
      if (e.localName === 'select') {
        paper.font = style.font;
        const room = e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight);
        for (const o of e.options) if (paper.measureText(o.text).width > room) wrong.push(`${name(e)} cuts off its option "${o.text}"`);
      }
    }
    return wrong.concat(covered());
  }

  /** Nothing that stays in sight lies over text beside it once that is moved to the middle of the screen. */
  function covered() {
    const wrong = [];
    for (const over of document.body.querySelectorAll('*')) {
      if (getComputedStyle(over).position !== 'sticky' || !visible(over)) continue;
      for (const e of [...over.parentElement.querySelectorAll('*')].filter((i) => ownText(i) && !over.contains(i) && visible(i)).slice(-20)) {
        e.scrollIntoView({ block: 'center', behavior: 'instant' });
        const r = box(e);
        const there = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
        if (there && over.contains(there)) wrong.push(`${name(e)} lies under ${name(over)}`);
      }
    }
    scrollTo(0, 0);
    return wrong;
  }

  /** A page on paper: black on white, nothing to press, nothing beyond the sheet's edge. */
  function printed() {
    const wrong = [];
    const root = document.scrollingElement;
    if (root.scrollWidth > root.clientWidth) wrong.push(`the page is ${root.scrollWidth} wide on a sheet of ${root.clientWidth}`);
    // What is not drawn on a sheet is the sheet itself: white.
    const rgb = (colour) => { const [r, g, b, a = 1] = colour.match(/[\d.]+/g).map(Number); return [r, g, b].map((c) => 255 + (c - 255) * a); };
    const luminance = (colour) => rgb(colour).map((c) => c / 255).map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)).reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
    const white = (e) => { if (luminance(getComputedStyle(e).backgroundColor) < 0.99) wrong.push(`${name(e)} is not white: ${getComputedStyle(e).backgroundColor}`); };
    white(document.documentElement);
    white(document.body);
    for (const e of document.body.querySelectorAll('*')) {
      if (!visible(e) || e.ownerSVGElement) continue;
      const style = getComputedStyle(e);
      if (e.matches('nav, button, input, select, textarea, .button')) wrong.push(`${name(e)} is of no use on paper`);
      if (style.overflowX !== 'visible' && e.localName !== 'svg' && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1)) wrong.push(`${name(e)} is cut off: ${e.scrollWidth} in ${e.clientWidth}`);
      if (!ownText(e)) continue;
      // 7:1 with white, WCAG 2.2, 1.4.6: printers are no screens
      if (1.05 / (luminance(style.color) + 0.05) < 7) wrong.push(`${name(e)} is too pale: ${style.color}`);
      if (luminance(style.backgroundColor) < 0.8) wrong.push(`${name(e)} is not white: ${style.backgroundColor}`);
    }
    return wrong;
  }

  /** What can be pressed: a label with its box or button is one target. */
  function targets() {
    const all = new Map();
    for (const e of document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')) {
      if (!visible(e) || waiting(e)) continue;
      const whole = (/^(checkbox|radio)$/.test(e.type) && e.closest('label')) || e;
      all.set(whole, box(whole));
    }
    return all;
  }

  /** A link within a sentence is as high as its line; other targets take a finger. */
  const inSentence = (e) => {
    if (e.localName !== 'a' || getComputedStyle(e).display !== 'inline') return false;
    let p = e.parentElement;
    while (getComputedStyle(p).display === 'inline') p = p.parentElement;
    return p.textContent.trim().length > e.textContent.trim().length;
  };

  /**
   * Every target is at least 44 by 44; a link within a sentence needs what WCAG 2.2
   * wants of small targets (2.5.8, Spacing): a circle of 24 around its middle touches
   * no other target, nor the circle of another small one.
   */
  function touch() {
    const wrong = [];
    const all = targets();
    const gap = (x, y, r) => Math.hypot(Math.max(r.left - x, 0, x - r.right), Math.max(r.top - y, 0, y - r.bottom));
    for (const [e, r] of all) {
      if (!inSentence(e)) {
        if (r.width < TOUCH - SLACK || r.height < TOUCH - SLACK) wrong.push(`${name(e)} is ${number(r.width)} by ${number(r.height)}`);
        continue;
      }
      if (r.width >= LEAST && r.height >= LEAST) continue;
      const [x, y] = [r.x + r.width / 2, r.y + r.height / 2];
      for (const [o, q] of all) {
        if (o === e) continue;
        const small = q.width < LEAST || q.height < LEAST;
        if (gap(x, y, q) < LEAST / 2 || (small && Math.hypot(x - q.x - q.width / 2, y - q.y - q.height / 2) < LEAST)) wrong.push(`${name(e)} is too near to ${name(o)}`);
      }
    }
    return wrong;
  }

  /** Where Tab has to stop, in the order of the document. */
  function stops() {
    const groups = new Set();
    return [...document.querySelectorAll(CONTROLS)].filter((e) => {
      if (e.disabled || e.closest('[inert]') || !e.checkVisibility({ visibilityProperty: true })) return false;
      if (e.tabIndex < 0 && !e.matches('a, button, input, select, textarea, summary')) return false; // it takes the focus from scripts alone
      if (e.type !== 'radio') return true;
      // Tab goes to one button of a group: the one that is on, else the first.
      const group = [...document.getElementsByName(e.name)].filter((o) => o.type === 'radio' && o.form === e.form);
      return e === (group.find((o) => o.checked) ?? group[0]);
    });
  }

  /** One look at what has the focus: is it marked, and is nothing in front of it? */
  function mark(e) {
    const wrong = [];
    const style = getComputedStyle(e);
    if (!e.matches(':focus-visible') || style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) wrong.push(`${name(e)} has the focus and does not show it`);
    // Of what is higher than the screen, the part that is on it.
    const r = e.getClientRects()[0] ?? box(e);
    const x = (Math.max(r.left, 0) + Math.min(r.right, innerWidth)) / 2;
    const y = (Math.max(r.top, 0) + Math.min(r.bottom, innerHeight)) / 2;
    const there = document.elementFromPoint(x, y);
    if (!there || !(e.contains(there) || there.contains(e) || e.closest('label')?.contains(there))) wrong.push(`${name(e)} has the focus behind ${there ? name(there) : 'the edge of the screen'} (${number(x)}, ${number(y)})`);
    return wrong;
  }

  /** What an element is made of, itself and all that is in it, each once. */
  const made = (e) => [...new Set([e, ...e.querySelectorAll('*')].map((i) => `${i.localName}.${i.getAttribute('class')}`))].sort().join();

  /** Of siblings that are made of the same, all but the first four: they tell nothing new. */
  function more(parent, found = []) {
    const count = {};
    for (const e of parent.children) {
      const alike = parent.children.length > 4 ? made(e) : '';
      if (alike && (count[alike] = (count[alike] ?? 0) + 1) > 4) found.push(e);
      else if (e.localName !== 'svg') more(e, found);
    }
    return found;
  }

  /**
   * What axe-core finds, with every rule asked but those that are off, or with some
   * only. A contrast that it cannot work out counts as a fault. It cannot for what is
   * written in a drawing, over lines and areas: that stands on an edge of its own, of
   * the sheet's colour.
   */
  async function rules(off, only) {
    const options = { resultTypes: ['violations', 'incomplete'], preload: false };
    if (only.length) options.runOnly = only;
    else options.rules = Object.fromEntries(axe.getRules().map((r) => [r.ruleId, { enabled: !off.includes(r.ruleId) }]));
    // What stays in sight while the page is moved covers now this, now that; [mark] looks after it.
    const sticky = [...document.body.querySelectorAll('*')].filter((e) => getComputedStyle(e).position === 'sticky').map((e) => [e, e.style.position]);
    for (const [e] of sticky) e.style.position = 'static';
    const { violations, incomplete } = await axe.run({ include: document, exclude: [...document.querySelectorAll('svg text'), ...more(document.body)] }, options);
    for (const [e, position] of sticky) e.style.position = position;
    // It says nothing of a sign alone: here a word of the same colour stands beside it.
    const known = (n) => n.any.length > 0 && n.any.every((c) => ['shortTextContent', 'nonBmp'].includes(c.data?.messageKey));
    const open = incomplete.filter((r) => r.id.startsWith('color-contrast')).map((r) => ({ ...r, nodes: r.nodes.filter((n) => !known(n)) }));
    return [...violations, ...open].flatMap((r) => r.nodes.map((n) => `${r.id}: ${r.help}: ${n.html.slice(0, 200)} ${[...n.any, ...n.all, ...n.none].map((c) => c.message).join('; ')}`));
  }

  let seen = [];
  let wrongMarks = [];
  let pressed = [];
  const look = () => {
    const e = document.activeElement;
    seen.push(e);
    if (e !== document.body) wrongMarks.push(...mark(e));
  };
  const watchTab = (event) => { if (event.key === 'Tab') look(); };
  const watchClick = (event) => {
    pressed.push(event.target);
    event.preventDefault();
    event.stopImmediatePropagation();
  };

  /** Starts watching Tab from the top of the page; gives the number of stops. */
  function tabs() {
    // Tab goes on from where the last thing was that had the focus.
    const top = document.createElement('span');
    top.tabIndex = -1;
    document.body.prepend(top);
    top.focus();
    top.remove();
    seen = [];
    wrongMarks = [];
    addEventListener('keydown', watchTab, true);
    return stops().length;
  }

  /** What went wrong between [tabs] and now, once Tab was pressed once more than there are stops. */
  function tabbed() {
    look();
    removeEventListener('keydown', watchTab, true);
    const wrong = [...wrongMarks];
    const want = stops();
    const [first, ...rest] = seen; // before the first press
    if (first !== document.body) wrong.push(`the focus began at ${name(first)}`);
    const got = rest.slice(0, want.length);
    for (const e of want) if (!got.includes(e)) wrong.push(`${name(e)} is not reached by Tab`);
    for (const e of got) if (!want.includes(e)) wrong.push(`Tab stops at ${name(e)}`);
    if (!wrong.length) {
      const at = want.findIndex((e, i) => e !== got[i]);
      if (at >= 0) wrong.push(`Tab comes to ${name(got[at])} before ${name(want[at])}`);
    }
    const last = rest[want.length];
    if (want.length > 1 && last !== document.body && last !== want[0]) wrong.push(`after the last stop Tab is caught at ${name(last)}`);
    return wrong;
  }

  let list = [];
  /** What an element is and stands in. */
  const place = (e) => (e === document.body ? '' : `${place(e.parentElement)} ${e.localName}.${e.className}`);

  /** Gives the focus to the first of the elements found; false when there is none. Of many in like places three are enough. */
  function first(selector) {
    const alike = {};
    list = [...document.querySelectorAll(selector)].filter((e) => !e.disabled && (alike[place(e)] = (alike[place(e)] ?? 0) + 1) <= 3);
    return next();
  }
  function next() {
    while (list.length) {
      const e = list.shift();
      if (!visible(e)) continue;
      e.focus();
      return true;
    }
    return false;
  }

  /** Whether the details around the summary that has the focus are open. */
  const open = () => document.activeElement.closest('details').open;

  /** Catches every click from now on, so that nothing comes of it. */
  function hold() { pressed = []; addEventListener('click', watchClick, true); }
  /** How often what has the focus was clicked since the last time. */
  function clicks() { const n = pressed.filter((e) => e === document.activeElement).length; pressed = []; return n; }
  function release() { removeEventListener('click', watchClick, true); }

  /** Where the page's own links lead, within the site; what is downloaded is no page. */
  const links = () => [...document.querySelectorAll('a[href]:not([download])')].filter((a) => a.origin === location.origin).map((a) => a.pathname);

  const focused = () => name(document.activeElement);

  window.examine = { rules, fit, printed, touch, tabs, tabbed, first, next, open, hold, clicks, release, links, focused, name };
})();
