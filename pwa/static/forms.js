/** Reading and filling forms, whatever they are about. */

/** A form's name among those of a page. */
const nameOf = (form, i) => form.dataset.form ?? String(i);

/**
 * What is in a form, as a browser would send it.
 * @param {HTMLFormElement} form
 * @param {HTMLElement} [submitter]
 * @returns {Object<string, string[]>}
 */
export function collect(form, submitter) {
  const values = {};
  for (const [name, value] of new FormData(form, submitter)) {
    if (typeof value === 'string') (values[name] ??= []).push(value);
  }
  return values;
}

/** The forms inside root that were typed in, by name. */
export function typed(root) {
  const forms = {};
  [...root.querySelectorAll('form')].forEach((form, i) => {
    if (form.dataset.typed !== undefined) forms[nameOf(form, i)] = collect(form);
  });
  return forms;
}

/** Fills what was typed back in; gives the forms that were filled. */
export function refill(root, forms) {
  return [...root.querySelectorAll('form')].filter((form, i) => {
    const values = forms?.[nameOf(form, i)];
    if (!values) return false;
    for (const field of form.elements) {
      if (!field.name || field.type === 'hidden' || field.type === 'submit') continue;
      const given = values[field.name] ?? [];
      if (field.type === 'checkbox' || field.type === 'radio') field.checked = given.includes(field.value);
      else if ('value' in field) field.value = given[0] ?? '';
    }
    form.dataset.typed = '';
    for (let d = form.closest('details'); d; d = d.parentElement.closest('details')) d.open = true;
    return true;
  });
}

/** Where the typing is, so that it can go on after the page was drawn again. */
export function caret(root) {
  const field = document.activeElement;
  if (!field?.form || !root.contains(field)) return () => {};
  const { id, name } = field;
  const { selectionStart: from, selectionEnd: to } = field;
  return () => {
    const again = (id && document.getElementById(id)) || root.querySelector(`[name="${CSS.escape(name)}"]`);
    again?.focus({ preventScroll: true });
    if (from !== null && from !== undefined) again?.setSelectionRange?.(from, to);
  };
}

/** Shows what is wrong beside the fields, and goes to the first, or to what is about all of them. */
export function complain(form, problems) {
  let first = null;
  let said = null;
  for (const place of form.querySelectorAll('[id^="p-"]')) {
    const name = place.id.slice(2);
    place.textContent = problems[name] ?? '';
    if (problems[name]) said ??= place;
    for (const field of form.elements) {
      if (field.name !== name) continue;
      if (problems[name]) { field.setAttribute('aria-invalid', 'true'); first ??= field; } else field.removeAttribute('aria-invalid');
    }
  }
  if (first) first.focus();
  else said?.scrollIntoView({ block: 'center' });
}
