/**
 * Keeps the screen lit while a page that is read across a table stands on it.
 * A browser lets go by itself when the phone is put away; where it does not
 * know how, the screen darkens as ever.
 *
 * @module
 */

/** @param {HTMLElement} node of the page */
export function keepAwake(node) {
  const hold = async () => {
    if (document.hidden) return;
    const lock = await navigator.wakeLock?.request('screen').catch(() => null); // no charge left, or not allowed
    if (!lock) return;
    const look = setInterval(() => {
      if (node.isConnected && !lock.released) return;
      clearInterval(look);
      lock.release();
      if (!node.isConnected) document.removeEventListener('visibilitychange', hold);
    }, 5000);
  };
  document.addEventListener('visibilitychange', hold);
  hold();
}
