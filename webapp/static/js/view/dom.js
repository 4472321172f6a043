/**
 * Making elements. Text goes in as text nodes and attributes as attributes, so
 * nothing a person typed is ever read as markup.
 *
 * @module
 */

/** @typedef {Node|string|number|null|undefined|false|Child[]} Child */

/**
 * h('button', {type: 'button', onclick: save}, 'Save').
 *
 * Properties that start with 'on' are listeners, 'class' and everything else
 * are attributes; true is an attribute without a value, false and null are none.
 *
 * @param {string} tag
 * @param {Record<string, any>} [properties]
 * @param {...Child} children
 * @returns {any}
 */
export function h(tag, properties = {}, ...children) {
  return fill(document.createElement(tag), properties, children);
}

const svgNames = 'http://www.w3.org/2000/svg';

/**
 * h for SVG.
 *
 * @param {string} tag
 * @param {Record<string, any>} [properties]
 * @param {...Child} children
 * @returns {any}
 */
export function s(tag, properties = {}, ...children) {
  return fill(document.createElementNS(svgNames, tag), properties, children);
}

function fill(element, properties, children) {
  for (const [name, value] of Object.entries(properties)) {
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(name, value);
  }
  append(element, children);
  return element;
}

/** @param {Element} element @param {Child[]} children */
function append(element, children) {
  for (const child of children.flat(Infinity)) {
    if (child === null || child === undefined || child === false) continue;
    element.append(child instanceof Node ? child : String(child));
  }
}

/**
 * Puts children in the place of what an element holds.
 *
 * @param {Element} element
 * @param {...Child} children
 */
export function show(element, ...children) {
  element.replaceChildren();
  append(element, children);
}

/**
 * A place that is furnished anew only when its key changes, so that what a
 * person is typing there is not taken away by news from elsewhere.
 *
 * @param {string} [tag]
 * @returns {{node: HTMLElement, furnish: (key: string, make: () => any) => Promise<void>}}
 */
export function corner(tag = 'div') {
  const node = h(tag, { class: 'corner' });
  let at;
  return {
    node,
    furnish: async (key, make) => {
      if (key === at) return;
      at = key;
      const made = await make();
      if (key === at) show(node, made);
    },
  };
}

let last = 0;

/** An id that no other element of this page has. */
export function freshId(word) {
  return `${word}-${++last}`;
}
