/**
 * The parts of Tone that are used, loaded at the first sound. They are taken from their own files: the
 * library's front door opens a context of its own at import, before any gesture and with a clock that
 * the page's policy forbids.
 */
export { CrossFade } from 'tone/build/esm/component/channel/CrossFade.js';
export { Context } from 'tone/build/esm/core/context/Context.js';
export { Gain } from 'tone/build/esm/core/context/Gain.js';
export { setContext } from 'tone/build/esm/core/context/GlobalContext.js';
export { connect } from 'tone/build/esm/core/context/ToneAudioNode.js';
