/** Numbers that say how much an onset is like a beat, each against those of the 4 s on either side. */
export const CUE_NAMES = [
  'bassRise',
  'lowRise',
  'midRise',
  'highRise',
  'energy',
  'bands',
  'strength',
  'change',
  'wait',
  'rest',
  'bassOverNext',
  'bassOverLast',
  'energyOverNext',
  'energyOverLast',
] as const;
export const CUES = CUE_NAMES.length;
