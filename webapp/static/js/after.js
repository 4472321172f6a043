/**
 * What a start needs only once the room stands there, or when there is none to
 * draw: fetched as one, after what draws it.
 *
 * @module
 */
export { Exchange } from './exchange.js';
export { keepOffline } from './offline.js';
export { building } from './view/building.js';
export { joinForm } from './view/join.js';
