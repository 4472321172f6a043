/**
 * The engine's worker: the Go program, one call at a time, off the page's thread.
 * It is named for its program, pocket.wasm or engine.wasm; its address would lose
 * what a service worker does not keep.
 *
 * Messages, all of them:
 *
 *   page → worker   {id: number, name: string, body: Uint8Array}
 *                   one call; body is the call's JSON, or its lines, or both with a line
 *                   end between them.
 *   worker → page   {ready: true}
 *                   sent once; calls sent earlier are kept and answered in order.
 *   worker → page   {id: number, body: Uint8Array}
 *                   the answer to one call, JSON, and lines that may follow it. Calls are answered in the order sent.
 *   worker → page   {dead: string}
 *                   the engine will not answer again; the page starts another worker.
 *
 * @module
 */
import './wasm_exec.js';

/** @typedef {{id: number, name: string, body: Uint8Array}} Call */

/** @type {Call[]} */
const waiting = [];
let ready = false;

/** @param {Call} call */
function answer({ id, name, body }) {
  try {
    const out = globalThis.gaugebookEngine(name, body);
    self.postMessage({ id, body: out }, [out.buffer]);
  } catch (error) {
    self.postMessage({ dead: String(error) });
  }
}

self.onmessage = (event) => {
  if (ready) answer(event.data);
  else waiting.push(event.data);
};

/** Compiles the module while it arrives; a proxy that renames its type costs a little time, not the engine. */
async function instantiate(imports) {
  const response = await fetch(new URL(`../${self.name}`, import.meta.url));
  if (!response.ok) throw new Error(`the engine did not arrive: ${response.status}`);
  if (response.headers.get('Content-Type') === 'application/wasm' && WebAssembly.instantiateStreaming) {
    return WebAssembly.instantiateStreaming(response, imports);
  }
  return WebAssembly.instantiate(await response.arrayBuffer(), imports);
}

try {
  const go = new globalThis.Go();
  const { instance } = await instantiate(go.importObject);
  go.run(instance).then(() => self.postMessage({ dead: 'the engine ended' }));
  ready = true;
  self.postMessage({ ready: true });
  waiting.splice(0).forEach(answer);
} catch (error) {
  self.postMessage({ dead: String(error) });
}
