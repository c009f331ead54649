export { likeness, neighboursSummed, newSound } from './around';
export { firstRise, fluxPeaks, meanPowers } from './attacks';
export { scaled, unpacked } from './base64';
export { searchPath } from './beat-path';
export { intervalOdds } from './beat-rhythm';
export { dot, energies, filtered, halved } from './dots';
export { hearCells, timeLooks } from './ear';
export { demoted, doublesAdded, promoted, squaresAdded } from './floats';
export { bandLevels, fluxes, largest, levelLine } from './flux';
export { heldGains, turnsRaised } from './held-levels';
export { logarithms, peaksOfSums, rowNorms } from './levels';
export { exponentials, likenesses, pairsFollowed, pairsLedTo, pairsWithoutHarmony } from './likeness';
export { phasesLocked, strongPeaks, turnBetween } from './lock';
export { noiseLowered, noiseStirred } from './noise';
export { added, allReach, fadedOver, floatsAdded, floatsOfProducts, inverted, sidesAdded } from './overlap';
export { perceived } from './perceptron';
export { peaks, pitchClasses, tuned } from './pitch';
export { repeatsAt } from './repeats';
export {
  mixed,
  samplesOf16,
  samplesOf24,
  samplesOfFloats,
  samplesTo16,
  samplesTo24,
  samplesToFloats,
  together,
} from './samples';
export { rowSums, weightsRefitted } from './salience';
export { blockMaxima, peakBetween, weighedEnergies } from './scan';
export { bandsOfEight, classesOfEight, powersOfEight, sumsOfEight } from './spectra';
export { tallied } from './tally';
export { framePowers, overlapped, passTurns, products, productsAdded, transform, windowed } from './transform';
export { pairPowers, rampTurns, turned } from './turns';
export { fallsTaken } from './usual-fall';
