/**
 * Keeps the focus on something. What is furnished anew under a person's hands
 * takes the focus of what stood there; where nothing is called so any more, the
 * place itself has it, so that the next press of Tab goes on from there.
 *
 * @module
 */

/** The words by which a control is known. */
const nameOf = (node) => `${node.tagName} ${node.getAttribute('aria-label') ?? node.labels?.[0]?.textContent ?? node.textContent}`;

/** @param {HTMLElement} place which can have the focus itself */
export function keepFocus(place) {
  let last = place;
  let name = '';
  place.addEventListener('focusin', ({ target }) => {
    last = target;
    name = nameOf(target);
  });
  new MutationObserver(() => {
    if (last.isConnected || document.activeElement !== document.body) return;
    const same = [...place.querySelectorAll(last.tagName)].find((one) => nameOf(one) === name && one.checkVisibility());
    (same ?? place).focus({ preventScroll: true });
  }).observe(place, { childList: true, subtree: true });
}
