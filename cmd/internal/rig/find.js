// Finding what a person would look for. Evaluated in the page before each use.
(() => {
  const words = (node) => node.textContent.trim().replace(/\s+/g, ' ');
  const seen = (node) => node.checkVisibility({ checkOpacity: false, checkVisibilityCSS: true });
  const plain = (text) => text.replace(/ needed$/, '');

  /** The form, drawer or section of a title. */
  function region(scope, title) {
    const named = [...scope.querySelectorAll('details, form, section, fieldset, [role=region], gb-quantity, .field, .notice')].filter(seen).filter((node) => {
      const head = node.getAttribute('aria-label') ?? words(node.querySelector('summary, h2, h3, legend, label, p') ?? node);
      return plain(head).startsWith(title);
    });
    if (named.length === 0) throw new Error(`nothing here is called ‘${title}’`);
    return named[0];
  }

  /** The words by which a control is known. */
  function names(node) {
    const out = [...(node.labels ?? [])].map((label) => plain(words(label)));
    if (node.getAttribute('aria-label')) out.push(node.getAttribute('aria-label'));
    if (['BUTTON', 'SUMMARY', 'A', 'LABEL'].includes(node.tagName)) out.push(words(node));
    return out;
  }

  /** The button of a table's row that says the words, itself or in the note under it. */
  function inRow(scope, said) {
    const row = [...scope.querySelectorAll('tr')].filter(seen).find((one) => words(one).includes(said));
    const button = row?.querySelector('button') ?? row?.previousElementSibling?.querySelector('button');
    if (!button) throw new Error(`no row says ‘${said}’`);
    return button;
  }

  /**
   * The control of a name. 'button: Save' means a button, where a drawer's title
   * has the same words; 'row: 150 proof' the one that opens that row of a table.
   */
  function control(scope, called) {
    if (called.startsWith('row: ')) return inRow(scope, called.slice(5));
    const [, only, name] = called.match(/^(button: )?(.*)$/);
    const all = [...scope.querySelectorAll(only ? 'button' : 'button, summary, a, input, select, textarea, label')].filter(seen);
    const of = (fits) => all.find((node) => node.tagName !== 'LABEL' && names(node).some(fits));
    const found = of((one) => one === name) ?? of((one) => one.startsWith(name));
    if (!found) throw new Error(`no control here is called ‘${name}’; there are ${all.flatMap(names).join(' | ')}`);
    return found;
  }

  function find(path) {
    const parts = path.split(' > ');
    const last = parts.pop();
    return control(parts.reduce(region, document), last);
  }

  /**
   * Touches it in its middle, if nothing lies over that. Looking and touching
   * are one step, so that nothing moves between them.
   */
  function touch(path) {
    const node = find(path);
    const tiny = node.getBoundingClientRect().width < 8; // put out of sight for the sake of its label
    const target = tiny && node.labels?.[0] ? node.labels[0] : node;
    target.scrollIntoView({ block: 'center', inline: 'nearest' });
    const box = target.getBoundingClientRect();
    const hit = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
    if (!hit || !target.contains(hit)) throw new Error(`‘${path}’ cannot be touched: ${hit ? `<${hit.tagName}> ${words(hit).slice(0, 40)}` : 'nothing'} lies over it`);
    if (node.disabled) throw new Error(`‘${path}’ cannot be touched: it is off`);
    node.focus({ preventScroll: true });
    target.click();
    return true;
  }

  /** Resolves when the page did not change for so many milliseconds. */
  function quiet(ms) {
    return new Promise((resolve) => {
      let timer = 0;
      const watch = new MutationObserver(() => wait());
      const wait = () => {
        clearTimeout(timer);
        timer = setTimeout(() => { watch.disconnect(); resolve(true); }, ms);
      };
      watch.observe(document, { subtree: true, childList: true, attributes: true, characterData: true });
      wait();
    });
  }

  /** Chooses what begins with the words, from a list. */
  function choose(path, option) {
    const node = find(path);
    const at = [...node.options].findIndex((one) => one.textContent.startsWith(option));
    if (at < 0) throw new Error(`‘${path}’ does not offer ‘${option}’; it has ${[...node.options].map((one) => one.textContent).join(' | ')}`);
    node.focus();
    node.selectedIndex = at;
    node.dispatchEvent(new Event('input', { bubbles: true }));
    node.dispatchEvent(new Event('change', { bubbles: true }));
    node.blur();
    return true;
  }

  /** What stands below a field: its help, or what is wrong with it. */
  function below(path) {
    const node = find(path);
    return { text: words(document.getElementById(node.getAttribute('aria-describedby')) ?? document.createElement('p')), wrong: node.getAttribute('aria-invalid') === 'true' };
  }

  /** Resolves with what look gives, once that is something; rejects after so many milliseconds. */
  function until(look, ms) {
    const end = performance.now() + ms;
    return new Promise((resolve, reject) => {
      const again = async () => {
        let why = 'it never was';
        try {
          const found = await look();
          if (found !== null && found !== undefined && found !== false && found !== '') return resolve(found);
        } catch (error) {
          why = error.message;
        }
        if (performance.now() > end) reject(new Error(why));
        else setTimeout(again, 15);
      };
      again();
    });
  }

  /** What a store of the phone's own log answers. */
  function inLog(name, ask) {
    return new Promise((resolve, reject) => {
      const open = indexedDB.open('gaugebook');
      open.onerror = () => reject(open.error);
      open.onsuccess = () => {
        const asked = ask(open.result.transaction(name).objectStore(name));
        asked.onsuccess = () => { open.result.close(); resolve(asked.result); };
      };
    });
  }

  /** Counts the entries in the phone's own log; with a state, those in it. */
  const held = (state) => inLog('entries', (entries) => (state ? entries.index('state').count(state) : entries.count()));

  /** The records in the phone's own log, as they stand there. */
  const lines = async () => (await inLog('entries', (entries) => entries.getAll())).map(({ line }) => line);

  /** What the phone keeps about itself under a name. */
  const kept = (name) => inLog('meta', (meta) => meta.get(name));

  globalThis.rig = { held, kept, lines, words, seen, names, find, touch, quiet, choose, below, until, control, region };
})()
