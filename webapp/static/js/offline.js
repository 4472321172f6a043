/**
 * The service worker's registration and its polite update.
 *
 * A new build is fetched and kept beside the running one. It takes over when
 * the person says so, or by itself once the page is out of sight; never while
 * a form is touched, never during an exchange: told so meanwhile, it waits.
 *
 * @module
 */
import { trustedURL } from './trusted.js';

const lookAgainMs = 15 * 60 * 1000;

/**
 * @param {{busy: () => boolean, onWaiting: (take: () => void) => void, onState: (words: string) => void}} page
 *   busy: a form is touched or an exchange runs; onWaiting: a newer build can
 *   take over, by calling take; onState: what to say about opening without a network
 */
export async function keepOffline({ busy, onWaiting, onState }) {
  if (!('serviceWorker' in navigator)) {
    onState('This address cannot keep the app on the phone: it opens only while the office can be reached. What you write is kept all the same.');
    return;
  }
  let controlled = Boolean(navigator.serviceWorker.controller);
  let leaving = false;
  navigator.serviceWorker.addEventListener('controllerchange', () => {
    if (!controlled) {
      controlled = true; // the first worker of this phone: the page is already its build
      return;
    }
    if (leaving) return;
    leaving = true;
    whenIdle(busy, () => location.reload());
  });

  const registration = await navigator.serviceWorker.register(trustedURL('/sw.js'), { updateViaCache: 'none' });
  const take = () => registration.waiting?.postMessage('take over');
  const offer = () => {
    if (registration.waiting && navigator.serviceWorker.controller) onWaiting(() => whenIdle(busy, take));
  };
  registration.addEventListener('updatefound', () => {
    registration.installing?.addEventListener('statechange', offer);
  });
  document.addEventListener('visibilitychange', () => {
    if (document.hidden && !busy()) take();
    else if (!document.hidden) registration.update().catch(() => {}); // the office is out of reach: asked again later
  });
  setInterval(() => registration.update().catch(() => {}), lookAgainMs);
  offer();
  const { active } = await navigator.serviceWorker.ready;
  onState('');
  active.postMessage('keep the manual');
}

/** Runs act now, or at the first quiet second. */
function whenIdle(busy, act) {
  if (!busy()) return act();
  const timer = setInterval(() => {
    if (busy()) return;
    clearInterval(timer);
    act();
  }, 1000);
}
