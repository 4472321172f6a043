/**
 * This phone: what it is for, until when, and how it is handed back.
 *
 * @module
 */
import { h, show } from './dom.js';
import { handBack } from '../handback.js';

const day = (ms) => new Date(ms).toLocaleString([], { dateStyle: 'medium', timeStyle: 'short' });

/** @type {import('../rooms.js').Open} */
export async function open(app) {
  const what = h('div', {});
  const refresh = async () => {
    const { me } = app.standing;
    show(what, me ? [
      h('p', {}, `It writes as ${me.name}, for “${me.label}”. Its role is ${me.role}: ${me.says}.`),
      h('p', {}, me.ends_ms ? `Its time ${app.standing.over ? 'ended' : 'ends'} on ${day(me.ends_ms)}. What was written before and arrives later waits for the owner.` : 'Its time has no end.'),
      me.words ? h('p', {}, 'The office’s screen shows the same two words for it: ', h('b', {}, me.words), '.') : null,
    ] : h('p', {}, 'The office has not said yet what this phone is for.'),
    h('p', { class: 'help' }, window.isSecureContext && navigator.serviceWorker?.controller
      ? 'The app is kept on this phone and opens without the network.'
      : 'This browser does not keep the app: it counts and sends while the page stays open. Do not close the page away from the office’s network; what is saved stays saved.'));
  };
  await refresh();
  return { node: h('div', { class: 'room' }, h('section', { class: 'leaf', 'aria-label': 'This phone' }, what), handBackForm(app)), refresh };
}

/** Asks once more, then hands the phone back. @param {import('../main.js').App} app */
export function handBackForm(app) {
  const words = h('p', { role: 'status' });
  const wrong = h('p', { class: 'fault', role: 'alert' });
  const sure = h('button', {
    type: 'button', class: 'main', hidden: true, onclick: async () => {
      if (sure.ariaDisabled) return; // it is on its way; disabled, the button would lose the focus
      sure.ariaDisabled = 'true';
      wrong.textContent = '';
      try {
        app.showHandedBack(await handBack(app, (text) => { words.textContent = text; }));
      } catch (error) {
        words.textContent = '';
        wrong.textContent = error.message;
        sure.ariaDisabled = null;
      }
    },
  }, 'Send all, then wipe this phone');
  const begin = h('button', { type: 'button', onclick: () => { sure.hidden = false; begin.hidden = true; sure.focus(); } }, 'Hand back');
  return h('section', { class: 'leaf', 'aria-labelledby': 'hand-back' }, h('h2', { id: 'hand-back' }, 'Hand this phone back'),
    h('p', {}, 'Everything of the book leaves this phone: first it is sent, then the office is asked whether it has each entry, and only then it is wiped.'),
    begin, sure, words, wrong);
}
