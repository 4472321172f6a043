/**
 * <gb-reminder>: reminds of the next reading, by sound, by vibration and in
 * words, and keeps the screen awake, if that is wanted. It starts anew when a
 * reading is saved.
 *
 * The browser lets a page sound only after a touch, and stops the clock of a
 * page that is out of sight; so the time is looked at again when it comes back.
 *
 * @module
 */
import { freshId, h, show } from '../view/dom.js';

const choices = [5, 10, 15, 20, 30, 60];
const minute = 60_000;

export class Reminder extends HTMLElement {
  /** @param {{minutes: number, awake: boolean, since: number}} kept @param {(kept: object) => void} keep */
  furnish(kept, keep) {
    this.kept = { minutes: 0, awake: false, since: 0, ...kept };
    this.keep = () => keep(this.kept);
    const every = freshId('every');
    const awake = freshId('awake');
    this.words = h('p', { class: 'help' });
    this.alarm = h('p', { class: 'ready', role: 'alert' });
    this.list = h('select', { id: every, onchange: () => this.choose(this.list.value) },
      h('option', { value: '0' }, 'not at all'), choices.map((minutes) => h('option', { value: String(minutes) }, `after ${minutes} min`)));
    this.list.value = String(this.kept.minutes);
    this.box = h('input', { type: 'checkbox', id: awake, checked: this.kept.awake, disabled: !navigator.wakeLock, onchange: () => this.wake(this.box.checked) });
    show(this, h('div', { class: 'field' }, h('label', { for: every }, 'Remind me of the next reading'), this.list, this.words),
      this.alarm,
      h('div', { class: 'field flag' }, this.box, h('label', { for: awake }, 'Keep the screen awake'),
        navigator.wakeLock ? null : h('p', { class: 'field-words' }, 'This browser cannot.')));
    this.look();
    if (this.kept.awake) this.wake(true);
    return this;
  }

  connectedCallback() {
    this.clock = setInterval(() => this.look(), 1000);
    this.seen = () => { if (document.visibilityState === 'visible') this.back(); };
    document.addEventListener('visibilitychange', this.seen);
  }

  disconnectedCallback() {
    clearInterval(this.clock);
    document.removeEventListener('visibilitychange', this.seen);
    this.lock?.release();
    this.lock = null;
  }

  /** A reading was saved: the time starts anew. */
  again() {
    this.kept.since = Date.now();
    this.rung = false;
    this.keep();
    this.look();
  }

  choose(value) {
    this.kept.minutes = choices.find((minutes) => String(minutes) === value) ?? 0;
    this.voice ??= typeof AudioContext === 'function' ? new AudioContext() : null; // a touch allows it to sound later
    this.again();
  }

  look() {
    if (!this.words) return;
    const { minutes, since } = this.kept;
    const left = since + minutes * minute - Date.now();
    const due = minutes > 0 && left <= 0;
    this.words.textContent = minutes === 0 ? 'A sound and a vibration, if you want them.' : due ? 'A reading is due.' : `The next one in ${this.clockOf(left)}.`;
    if (due && !this.rung) this.ring();
    if (!due) this.alarm.textContent = '';
  }

  clockOf(left) {
    const seconds = Math.ceil(left / 1000);
    return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
  }

  ring() {
    this.rung = true;
    this.alarm.textContent = 'Time for a reading';
    navigator.vibrate?.([300, 150, 300, 150, 300]);
    if (!this.voice) return;
    this.voice.resume();
    for (const after of [0, 0.5, 1]) {
      const tone = this.voice.createOscillator();
      const loud = this.voice.createGain();
      tone.frequency.value = 880;
      loud.gain.value = 0.3;
      tone.connect(loud).connect(this.voice.destination);
      tone.start(this.voice.currentTime + after);
      tone.stop(this.voice.currentTime + after + 0.25);
    }
  }

  /** The lock goes when the page is out of sight, and is asked for again. */
  async wake(on) {
    this.kept.awake = on;
    this.keep();
    if (!on) {
      await this.lock?.release();
      this.lock = null;
      return;
    }
    try {
      this.lock = await navigator.wakeLock?.request('screen');
    } catch (error) {
      this.words.textContent = `The screen will not stay awake: ${error.message}`;
    }
  }

  back() {
    if (this.kept?.awake) this.wake(true);
    this.look();
  }
}

customElements.define('gb-reminder', Reminder);
