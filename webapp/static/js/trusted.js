/**
 * The page's one Trusted Types policy. It lets through addresses of this
 * origin's own scripts and nothing else; there is no policy for HTML, because
 * the page never makes any.
 *
 * @module
 */

const policy = globalThis.trustedTypes?.createPolicy('gaugebook', {
  createScriptURL(address) {
    if (new URL(address, location.href).origin !== location.origin) throw new TypeError(`${address} is not ours`);
    return address;
  },
});

/**
 * @param {URL|string} url a script of this origin
 * @returns {any} what Worker and ServiceWorkerContainer.register take
 */
export function trustedURL(url) {
  return policy ? policy.createScriptURL(String(url)) : String(url);
}
