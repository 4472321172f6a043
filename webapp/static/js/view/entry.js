/**
 * One entry: what it says, what was said about it since, and the form that
 * corrects it by a further entry.
 *
 * @module
 */
import { h, show } from './dom.js';
import { EntryForm } from './form.js';
import { printButton, signature } from './paper.js';
import { bigFigure, working } from './working.js';

/**
 * @param {import('../main.js').App} app
 * @param {string} address
 * @param {() => void} back
 */
export async function entryPage(app, address, back) {
  const left = h('div', {});
  const right = h('div', {});
  const refresh = async () => {
    const entry = await app.ask('view', { what: 'entry', address });
    show(left,
      entry.gauge ? gaugeRecord(entry.gauge) : null,
      h('section', { class: entry.gauge ? 'leaf unprinted' : 'leaf', 'aria-labelledby': 'entry-title' },
        h('h2', { id: 'entry-title' }, entry.kind, entry.void ? ' (voided)' : ''),
        h('p', { class: 'help' }, entry.facts),
        says(entry.says)),
      h('button', { type: 'button', class: 'quiet unprinted', onclick: back }, 'Back to the room'));
    right.className = entry.gauge ? 'unprinted' : '';
    show(right,
      h('section', { class: 'leaf', 'aria-labelledby': 'history-title' },
        h('h2', { id: 'history-title' }, 'Its history'),
        entry.history.length === 1 ? h('p', { class: 'help' }, 'It stands as it was written.') : h('ol', { class: 'things' }, entry.history.map((version) => h('li', {},
          h('div', { class: 'thing-head' }, h('b', {}, version.what), h('span', {}, version.when)),
          version.why ? h('p', {}, `Why: ${version.why}`) : null,
          version.stands ? null : h('p', { class: 'help' }, 'This correction was taken back later.'),
          says(version.says))))),
      entry.correctable ? await corrections(app, entry, refresh) : h('p', { class: 'help' }, entry.why_not));
  };
  await refresh();
  return { node: h('div', { class: 'room' }, left, right), refresh: async () => {} };
}

/** A gauge as the paper that is kept of it: folded on the screen, and what is printed of this page. */
function gaugeRecord({ title, house, facts, steps }) {
  return h('article', { class: 'paper leaf', 'aria-label': title }, h('details', {}, h('summary', {}, title),
    h('p', { class: 'printed' }, house), h('h2', {}, facts.title),
    h('dl', { class: 'facts' }, facts.lines.map(({ label, value }) => h('div', {}, h('dt', {}, label), h('dd', {}, value)))),
    bigFigure(steps, ''), working(steps), signature(['Gauged by', 'Witness', 'Date']),
    h('p', { class: 'row unprinted' }, printButton())));
}

function says(lines) {
  return h('table', { class: 'told' }, h('tbody', {}, lines.map(({ label, value }) => h('tr', {}, h('th', { scope: 'row' }, label), h('td', {}, value)))));
}

async function corrections(app, entry, refresh) {
  const why = { key: 'why', label: 'Why', type: 'text', need: true, max_len: 500, help: 'What was wrong, in a few words. It stays readable for ever.' };
  const amend = new AmendForm(app, {
    kind: 'entry amended', title: 'Correct it', save: 'Save the correction', draft: `amend ${entry.address}`,
    values: entry.values, onsaved: refresh, entry, first: ['why'],
    when: { key: 'happened', label: 'When it really happened', type: 'time', help: 'Only if the time itself was wrong.' },
  }, { kind: 'entry amended', help: 'The entry stays as it was written; this one says what it should have said.', fields: [why, ...entry.fields] });
  const taken = new EntryForm(app, {
    kind: 'entry voided', title: 'Take it out', save: 'Take the entry out', draft: `void ${entry.address}`, fixed: { entry: entry.address }, onsaved: refresh,
  }, { kind: 'entry voided', help: 'For what did not happen at all.', fields: [why] });
  await Promise.all([amend.ready, taken.ready]);
  return [
    h('details', {}, h('summary', {}, 'Correct this entry'), amend.node),
    h('details', {}, h('summary', {}, 'Take this entry out'), taken.node),
  ];
}

/** The fields of the entry's own kind, sent as the body of an amendment, which itself happens now. */
class AmendForm extends EntryForm {
  body() {
    const { why, ...inner } = super.body();
    return { entry: this.shape.entry.address, why, happened: this.when.get(), body: inner };
  }

  happened() {
    return '';
  }
}
