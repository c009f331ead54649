import { Chance } from '../../perform/chance.ts';
import { compose } from '../../perform/compose.ts';
import { band } from '../../perform/instruments.ts';
import type { Performance } from '../../perform/played.ts';
import { perform } from '../../perform/players.ts';
import { freedoms, styleFor } from '../../perform/sets.ts';
import { type Layout, type Material, mapped } from './material.ts';

const layout: Layout = { seconds: 21.3, every: 2, wishes: [0.8, 1.3], anchored: 0.003 };

/**
 * Further performances, 19 to 24 s, half piano alone, half piano with bass and brushes, in segment
 * ratios of 0.5 to 1.85. The piano slower than in the first ones, chords closer together, an anchor on every
 * second beat only, and an attack anchored only within 3 ms of an anchor. These settings were chosen so that the
 * stretchers beside ours, and what a perfect warp of each note by itself would score, come out as they did
 * where the goals were set; what ours scores was not looked at before they were fixed.
 */
export function secondMaterial(count: number, firstSeed = 51): Material[] {
  return Array.from({ length: count }, (_, i) => {
    const kind = i % 2 === 0 ? 'piano' : 'trio';
    const seed = firstSeed + i;
    return mapped(`second-${kind}-${seed}`, kind, played(kind, seed), seed, layout);
  });
}

function played(kind: 'piano' | 'trio', seed: number): Performance {
  const trio = kind === 'trio';
  const chance = new Chance(seed);
  const bpm = trio ? chance.between(70, 100) : chance.between(55, 80);
  const style = styleFor(chance, trio ? 'trio' : 'extreme', bpm);
  const score = compose(chance.fork(), {
    ...style,
    ornaments: 0.03,
    beats: Math.round((40 * bpm) / 60),
  });
  const players = band('grand piano', 'grand piano', trio ? 'double bass' : 'grand piano');
  const freedom = { ...freedoms[trio ? 'trio' : 'extreme'], bpm };
  return perform(chance.fork(), score, players, freedom, {
    melodyLead: trio ? 0.012 : chance.between(0.01, 0.035),
    jitter: 0.006,
    lag: trio ? chance.between(0.004, 0.028) : 0,
    spread: chance.between(0.01, 0.03),
    spreads: 0.3,
    swing: trio ? chance.between(0.56, 0.68) : 0.5,
    sway: trio ? 0.01 : 0.03,
    pedal: true,
    velocity: chance.whole(44, 72),
  });
}
