export { searchPath } from './beat-path';
export { dot, filtered, fourDots, gathered, halved } from './dots';
export { logarithms } from './levels';
export { exponentials, likenesses, pairsFollowed, pairsLedTo, pairsWithoutHarmony } from './likeness';
export { blockMaxima, largestFiltered, weighedEnergies } from './scan';
export { bandsOfEight, powersOfEight } from './spectra';
export { framePowers, transform } from './transform';
