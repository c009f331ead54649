import type { Progress } from '../../math/progress.ts';
import type { Cents, Hertz, Samples, Seconds, Share } from '../../math/units.ts';
import type { TimeMap } from '../../time/time-map.ts';
import { mapTime, unmapTime } from '../../time/time-map.ts';
import type { Band } from '../bands/bands.ts';
import type { Around, Surroundings } from './around.ts';
import type { Attack, Frames } from './attacks.ts';
import { type Decay, measureDecay } from './decay.ts';
import type { HeldLevels } from './held-levels.ts';
import { completeRelease, levelsOf, type Ringing, releaseBefore } from './release.ts';
import type { Steadiness } from './steadiness.ts';
import { type Knot, planTime, sourceAt } from './time-plan.ts';

/**
 * A stretch of one band from one kept attack to the next. Its first sound is copied at slope 1 and no
 * rotation, `source` to `out`; `knots` say which source moment sounds at which output moment, up to
 * the next piece's start at `outEnd` (where the source stands at `sourceEnd`). Full-rate samples.
 */
export interface Piece {
  readonly out: Samples;
  readonly source: Samples;
  readonly outEnd: Samples;
  readonly sourceEnd: Samples;
  /** Window of this piece, in band samples. */
  readonly window: Samples;
  readonly knots: readonly Knot[];
  readonly decay: Decay;
  /** What held sound is raised by when the piece begins (dB, at frequencies from 0 to half the band's rate), if at all. */
  readonly gains?: Float32Array;
}

/** Everything that is decided before a sample is computed; plain data, to be drawn and tested. */
export interface WarpPlan {
  readonly attacks: readonly Attack[];
  readonly bands: readonly { readonly band: Band; readonly pieces: readonly Piece[] }[];
}

/** Least distance (s) of kept attacks in each band. */
const spacing = [0.03, 0.015, 0.006];
/** How much (dB) a band's power has to rise for an attack to count in it; low notes may start under others. */
const leastRise = [0, 2, 2];
/** How much has to be new in a band (see `newness`), if anyone looks there. */
const leastNew = [0.3, 0.1];
/**
 * From which steadiness on the low band's window is doubled, and the same where partials are crowded; below
 * which its and the middle one's are halved if sound is sustained.
 */
const steadyFrom = 0.99;
const denseFrom = 0.96;
const movingBelow = 0.97;
/** From which share of crowded partials on (see `crowding`) windows are not halved, as long as not all is on the move: noise is crowded too. */
const tooCrowded = 0.5;

/**
 * Share of what dies away that is left to itself, by how steady the spectrum usually is: what moves, as sung
 * and bowed notes do, would stand still where time is made up late. Pieces of 29 to 39 notes or chords of
 * piano measured 0.945 and more (tests/perform), tones of 440 Hz with 20 to 40 cents of vibrato 0.92 to 0.5.
 */
const stillness = (usual: Share = 1): Share => Math.max(0, Math.min(1, (usual - 0.88) / 0.05));
/**
 * The same by how far (cents) partials move together: 0 to 3 in pieces of piano, bass and brushes, where
 * they do at all (tests/perform); 6 and more with 10 cents of vibrato.
 */
const unmoved = (vibrato: Cents): Share => Math.max(0, Math.min(1, (5.5 - vibrato) / 2));

/** What a band's own flux has to come to for an attack to count whatever the band's power does. */
const ownFlux = [0.3, 0.2, 0.2];
/** Whether an attack counts in a band. */
function counts(attack: Attack, band: number, surroundings: Surroundings | undefined): boolean {
  if (attack.flux[band] >= ownFlux[band]) return true;
  if (leastRise[band] > 0 && attack.rise[band] < leastRise[band]) return false;
  return !surroundings || surroundings.newnessAt(attack.start) >= leastNew[band];
}

/**
 * How far (s) the moment of a sound may lie before or after an anchor to be the one that it stands for. Soft
 * ones seem to be set off late; under a fortieth of 1253 lone notes came out over 2.6 ms early (piano, bass and
 * brushes of tests/perform): what is earlier is another note of a spread chord.
 */
const nearAnchor = { before: 0.003, after: 0.0065 };

/**
 * From the moment at which a player acts to where a copied sound begins (s), by how bright the sound is
 * (flux of the high band): hammers, sticks and reeds speak the later the softer and lower they are.
 * Medians of 317 piano, bass and brush notes of known times (tests/perform), half of them within 0.6 ms.
 */
const setOff: readonly { readonly flux: number; readonly delay: Seconds }[] = [
  { flux: 0, delay: 0.0065 },
  { flux: 0.1, delay: 0.0046 },
  { flux: 0.3, delay: 0.0033 },
  { flux: 0.6, delay: 0.0024 },
  { flux: 1, delay: 0.0015 },
  { flux: 2, delay: 0.0005 },
];

/**
 * Share of a half window before the next attack for which time runs at slope 1 again where a band is drawn out. The less,
 * the longer it does so after the attack before; but frames are cut off at the attack, and turned they blur where they are.
 */
const atEnd: readonly Share[] = [1, 0.5, 1];

/** How many times as much the attack that an anchor stands for counts where only one of two can be kept. */
const meant = 2;

/** Which moment of an attack a map moves: when it is heard, or when its player set it off. */
export type Moment = 'heard' | 'set off';

function momentOf(attack: Attack, { frames, sampleRate, moment }: Ground): Seconds {
  if (moment === 'heard') return attack.heard / sampleRate;
  // The lowest rates hold nothing of the high band: the middle one tells.
  const flux = attack.flux[frames.split[3] > frames.split[2] ? 2 : 1];
  const after = setOff.findIndex((s) => s.flux > flux);
  const b = setOff[after < 0 ? setOff.length - 1 : after];
  const a = after > 0 ? setOff[after - 1] : b;
  const share = b === a ? 0 : (flux - a.flux) / (b.flux - a.flux);
  return attack.start / sampleRate - (a.delay + (b.delay - a.delay) * share);
}

/** Where an attack lands, and whether it is the one that an anchor of the map stands for. */
interface Landing {
  readonly out: Samples;
  readonly anchored: boolean;
}

/**
 * Where attacks land. A copy moves by whole samples, as the map moves its moment: the anchor itself for
 * the attack nearest to it, since the map may bend there.
 */
function landings(attacks: readonly Attack[], ground: Ground): Landing[] {
  const { map, sampleRate } = ground;
  const moments = attacks.map((attack) => momentOf(attack, ground));
  // What speaks at once is heard when it is set off: later than the moment of what speaks late.
  const stands = (i: number, at: Seconds): boolean =>
    at > moments[i] - nearAnchor.after &&
    at < Math.max(moments[i] + nearAnchor.before, attacks[i].heard / sampleRate + 0.0005);
  const anchors = new Map<number, Seconds>();
  let first = 0;
  for (const { from } of map.anchors) {
    while (first < moments.length && moments[first] < from - 0.05) first++;
    let nearest = -1;
    for (let i = first; i < moments.length && moments[i] < from + 0.05; i++) {
      const off = Math.abs(moments[i] - from);
      if (stands(i, from) && (nearest < 0 || off < Math.abs(moments[nearest] - from))) nearest = i;
    }
    if (nearest >= 0) anchors.set(nearest, from);
  }
  return attacks.map((attack, i) => {
    const at = anchors.get(i) ?? moments[i];
    const out = attack.start + Math.round((mapTime(map, at) - at) * sampleRate);
    return { out, anchored: anchors.has(i) };
  });
}

/** What every band's plan goes by. */
export interface Ground {
  readonly frames: Frames;
  readonly map: TimeMap;
  readonly length: Samples;
  readonly sampleRate: Hertz;
  readonly moment: Moment;
}

/**
 * Decides which attacks each band keeps, where they land, and how time runs between them. Goes through
 * the source once, so that nothing that is looked at has to be in memory for long.
 */
export function planWarp(
  attacks: readonly Attack[],
  ground: Ground,
  bands: readonly Band[],
  surroundings: readonly Surroundings[],
  steadiness: Steadiness,
  levels: readonly HeldLevels[],
  progress?: Progress,
): WarpPlan {
  const planners = bands.map(
    (band, b) => new BandPlanner(ground, band, b, surroundings[b], steadiness, levels[b]),
  );
  const landed = landings(attacks, ground);
  attacks.forEach((attack, i) => {
    steadiness.advance(attack.start);
    for (const planner of planners) planner.take(attack, landed[i]);
    progress?.(i / attacks.length, 'warping');
  });
  steadiness.advance(unmapTime(ground.map, ground.length / ground.sampleRate) * ground.sampleRate);
  return {
    attacks,
    bands: planners.map((planner, b) => ({ band: bands[b], pieces: planner.finish() })),
  };
}

/** How far (s) from the attacks around it a release has to lie in the result, and how far off the map it would come, to be placed; what is so far apart are two. */
const letGo = { after: 0.04, before: 0.004, off: 0.01, apart: 0.08 };

/** Seconds after which a kept attack no longer gives way to another. */
const settled = 1;

interface Kept extends Knot {
  readonly strength: number;
  /** What sounds around it, where levels are carried over. */
  readonly around?: Around;
}

/** The plan of one band, made attack by attack. */
class BandPlanner {
  /** Attacks that may still give way to one that comes after them. */
  private readonly kept: Kept[] = [];
  private readonly pieces: Piece[] = [];
  private from: Knot;
  private readonly end: Knot;
  private gains: Float32Array | undefined;

  constructor(
    private readonly ground: Ground,
    private readonly band: Band,
    private readonly index: number,
    private readonly surroundings: Surroundings | undefined,
    private readonly steadiness: Steadiness,
    private readonly levels: HeldLevels | undefined,
  ) {
    const { map, length, sampleRate } = ground;
    this.from = { source: Math.round(unmapTime(map, 0) * sampleRate), out: 0 };
    this.end = {
      source: Math.round(unmapTime(map, length / sampleRate) * sampleRate),
      out: length,
    };
  }

  take(attack: Attack, { out, anchored }: Landing): void {
    const { ground, kept, index } = this;
    const { length, sampleRate } = ground;
    while (kept.length > 2 && kept[1].source < attack.start - settled * sampleRate)
      this.settle(kept.shift());
    if (out <= 0 || out >= length) return;
    const last = kept[kept.length - 1];
    const strength = attack.strength * (anchored ? meant : 1);
    const next = { source: attack.start, out, strength };
    const close =
      last !== undefined &&
      Math.min(next.source - last.source, next.out - last.out) / sampleRate < spacing[index];
    if (close && last.strength >= next.strength) return;
    // Last, since it is the dearest to ask.
    if (!anchored && !counts(attack, index, this.surroundings)) return;
    if (close) {
      kept.pop();
      const before = kept[kept.length - 1];
      if (before && (before.out >= next.out || before.source >= next.source)) return;
    }
    kept.push({ ...next, around: this.surroundings?.wideAt(next.source) });
  }

  finish(): readonly Piece[] {
    for (const kept of this.kept) this.settle(kept);
    this.add(this.end);
    return this.pieces;
  }

  private settle(kept: Kept | undefined): void {
    if (kept && kept.source > this.from.source && kept.source < this.end.source) this.add(kept);
  }

  /** The piece up to `z`. */
  private add({ out, source, around }: Knot & { readonly around?: Around }): void {
    const { band, index, steadiness, from: a } = this;
    // A knot alone: pieces last, and what sounds around an attack is large.
    const z = { out, source };
    const { frames, sampleRate } = this.ground;
    const { least, usual, vibrato, crowded } = steadiness.between(a.source, z.source);
    const measured = measureDecay(frames, index, a.source, z.source, sampleRate);
    // In steps, for the same reason as what a decay is measured as.
    const still = Math.round(64 * stillness(usual) * unmoved(vibrato)) / 64;
    const decay = { ...measured, share: measured.share * still };
    const shortest = Math.min(z.source - a.source, z.out - a.out) / band.decimation;
    let window = band.window;
    const dense = crowded >= tooCrowded;
    if (index === 0 && least > (dense ? denseFrom : steadyFrom) && unmoved(vibrato) === 1)
      window *= 2;
    const blurred = dense && still > 0;
    if (index < 2 && least < movingBelow && decay.share < 0.5 && !blurred) window /= 2;
    while (window > 64 && window * 1.25 > shortest) window /= 2;
    this.pieces.push({
      out: a.out,
      source: a.source,
      outEnd: z.out,
      sourceEnd: z.source,
      window,
      knots: this.timeBetween(a, z, (window / 2) * band.decimation, decay),
      decay,
      gains: this.gains,
    });
    this.gains = around && this.levels?.next(a, z, around, decay.share);
    this.from = z;
  }

  /**
   * How time runs from `a` to `z`. Where all sound is let go it is let go where the map says; a piece that is
   * shortened loses its end, so there what is let go right before the next attack is, too.
   */
  private timeBetween(a: Knot, z: Knot, zone: Samples, decay: Decay): readonly Knot[] {
    const { frames, map, sampleRate } = this.ground;
    const plan = (from: Knot, to: Knot) =>
      planTime(from, to, map, sampleRate, zone, decay, atEnd[this.index]);
    const shortened = z.out - a.out < z.source - a.source;
    const ringing: Ringing = {
      frames,
      band: this.index,
      from: a.source,
      to: z.source,
      usual: decay.rate,
      sampleRate,
    };
    const levels = levelsOf(ringing);
    const hurried = shortened ? releaseBefore(ringing, levels) : undefined;
    const gone = completeRelease(ringing, levels);
    const alone = gone === undefined || hurried === undefined;
    // What falls right after is the same release.
    const first = alone || gone < hurried - letGo.apart * sampleRate ? gone : undefined;
    const knots: Knot[] = [];
    let from = a;
    for (const source of [first, hurried]) {
      if (source === undefined) continue;
      const out = Math.round(mapTime(map, source / sampleRate) * sampleRate);
      const off = source - sourceAt(plan(from, z), out);
      const after = from.out + letGo.after * sampleRate;
      const before = z.out - letGo.before * sampleRate;
      if (out <= after || out >= before || Math.abs(off) < letGo.off * sampleRate) continue;
      knots.push(...plan(from, { out, source }));
      from = { out: out + 1, source: source + 1 };
    }
    return [...knots, ...plan(from, z)];
  }
}
