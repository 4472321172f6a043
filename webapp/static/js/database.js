/**
 * The phone's database: its name, its version, its stores. This is the page's
 * first script and no module, so that the database is asked for before anything
 * else: opening it takes as long as fetching the modules that read it. log.js
 * takes it over and is alone to use it.
 *
 * Versions of the database only ever add stores.
 */
globalThis.gaugebookDatabase = (() => {
  const name = 'gaugebook';
  const open = () => {
    const request = indexedDB.open(name, 1);
    request.onupgradeneeded = () => {
      const db = request.result;
      const entries = db.createObjectStore('entries', { autoIncrement: true }); // the key is the order in which they came to this phone
      entries.createIndex('id', 'id', { unique: true });
      entries.createIndex('state', 'state');
      db.createObjectStore('meta');
      db.createObjectStore('drafts');
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close(); // until log.js has it, which opens it again
    };
    return request;
  };
  return { open, begun: open(), remove: () => indexedDB.deleteDatabase(name) };
})();
