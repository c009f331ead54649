export { searchPath } from './beat-path';
export { dot, energies, filtered, fourDots, gathered, halved } from './dots';
export { logarithms } from './levels';
export { exponentials, likenesses, pairsFollowed, pairsLedTo, pairsWithoutHarmony } from './likeness';
export { mixed, samplesOf16, samplesOf24, samplesOfFloats } from './samples';
export { blockMaxima, peakBetween, weighedEnergies } from './scan';
export { bandsOfEight, powersOfEight } from './spectra';
export { framePowers, transform } from './transform';
