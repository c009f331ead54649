import { KernelRoom, type Kernels, ownKernels } from '../../math/kernel.ts';
import {
  BINS,
  bestOf,
  costsOf,
  findPath,
  LOGS,
  LONGEST,
  MOST,
  MOST_HELD,
  type Path,
  type Places,
  REACH,
  SHORTEST,
  SLIGHT,
  STEP,
  type TempoModel,
} from './path.ts';
import {
  BITS,
  HIGH_REST,
  LOW_LOG,
  mostFilled,
  mostGained,
  type SpanModel,
  STEPS,
  spanScore,
} from './span.ts';
import { PARTS } from './tuning.ts';

/** Steps of the kernel's own limits, as kernels/beat-path.ts has them. */
const CROWDS = 232;
const WIDTH = 0.02;

/** The kernels that search, which ask back for rhythms; made at the first search. */
let own: Kernels | null | undefined;
let asked: SpanModel['rhythm'] = () => 0;

function searchingKernels(): Kernels | null {
  own ??= ownKernels({
    rhythm: (from, to, parts, enough) => asked(from, to, parts, enough),
  });
  return own;
}

/**
 * The best path of beats through `places` (see `findPath`), intervals worth what `spanScore` makes of
 * `model`: by kernels where the machine has them, with the same result to the last bit.
 *
 * @param kernel made by `ownKernels`, since its memory stays in use; null for the plain form
 */
export function bestPath(
  places: Places,
  tempo: TempoModel,
  model: SpanModel,
  kernel: Kernels | null = searchingKernels(),
): Path {
  if (!kernel || places.times.length === 0) return findPath(places, tempo, spanScore(model));
  asked = model.rhythm;
  const { times } = places;
  const n = times.length;
  const costs = costsOf(tempo);
  const room = new KernelRoom(kernel);
  const inputs = [
    room.keepDoubles(times),
    room.keepDoubles(places.scores),
    room.keepBytes(places.must),
    room.keepDoubles(costs.levelCost),
    room.keepDoubles(costs.levelLow),
    room.keepDoubles(LOGS),
  ];
  // `value` and rows of `moved` are filled in pairs: one double past their end, where each place has room.
  const [value, tops, topBins] = [room.place(BINS * 8), room.place(n * 8), room.place(n * 2)];
  const [moved, cameFrom, movedFrom] = [8, 4, 2].map((width) => room.place(n * BINS * width));
  const spans = [
    room.keepDoubles(model.onsets),
    room.keepJob([], [...model.firstOnsets]),
    room.keepDoubles(model.rates),
    model.gains ? room.keepDoubles(model.gains) : 0,
    room.keepDoubles(model.patterns),
    room.keepBytes(BITS),
    room.keepDoubles(mostFilled(model.patterns)),
    room.keepDoubles(mostGained(model.gains, model.onsets.length)),
    room.keepDoubles(LOW_LOG),
    room.keepDoubles(HIGH_REST),
    room.keepDoubles(Float64Array.from(model.struck.flatMap(({ from, until }) => [from, until]))),
    room.keepDoubles(model.mostRhythms),
    ...[room.place(CROWDS * PARTS * 32), room.place(CROWDS * PARTS)],
    room.place(Math.ceil(REACH / WIDTH) * 32 + 32),
  ];
  const over = (interval: number) => Math.log(interval / SHORTEST);
  // In the order in which the kernel's own `PathSearch` has them.
  const search = room.keepJob(
    [
      ...[costs.perJitter, costs.perMove, tempo.leap, costs.aside, SLIGHT],
      ...[SHORTEST, LONGEST, REACH, STEP],
      ...[over(places.interval ?? SHORTEST), over(Math.exp(tempo.level))],
      ...[model.patternWeight, model.soundingWeight],
      ...[Math.log(model.sounding), Math.log(1 - model.sounding)],
    ],
    [
      ...[n, BINS, costs.band, places.starts, places.freeAt],
      ...[
        places.interval === undefined ? 0 : 1,
        MOST,
        places.held,
        MOST_HELD,
        PARTS,
        STEPS,
        model.struck.length,
      ],
      ...[...inputs, value, tops, topBins, moved, cameFrom, movedFrom, ...spans],
    ],
  );
  kernel.searchPath(search);
  return bestOf(places, tempo, {
    tops: room.doubles(tops, n),
    topBins: room.halves(topBins, n),
    cameFrom: room.whole(cameFrom, n * BINS),
    movedFrom: room.halves(movedFrom, n * BINS),
  });
}
