import type { Hertz, Samples, Seconds } from '../../shared/math/units.ts';

/** How one polarisation of a string rings: its pitch, and its decay at the bottom and at 3 kHz. */
export interface Ringing {
  readonly pitch: Hertz;
  /** Time to fall by 60 dB, low partials. */
  readonly low: Seconds;
  /** Time to fall by 60 dB at 3 kHz. */
  readonly high: Seconds;
}

/**
 * A string as one delay loop (Karplus and Strong 1983; Jaffe and Smith 1983): a one-pole loss
 * filter g (1 + a) / (1 + a z^-1) (Valimaki, Huopaniemi, Karjalainen and Janosy 1996) fitted to two
 * decay times, and a first-order allpass for the fraction of a sample, set by the exact phase delay
 * at the pitch so that the string is in tune.
 */
export class StringLoop {
  private readonly line: Float64Array;
  private readonly rate: Hertz;
  private write = 0;
  private whole: Samples = 100;
  private fraction = 0;
  private gain = 0;
  private pole = 0;
  private lowpassed = 0;
  private allpassIn = 0;
  private allpassOut = 0;

  constructor(rate: Hertz, lowest: Hertz) {
    this.rate = rate;
    this.line = new Float64Array(2 ** Math.ceil(Math.log2(rate / lowest + 8)));
  }

  /** Samples in one period at the pitch last set. */
  period: Samples = 100;

  tune({ pitch, low, high }: Ringing): void {
    const omega = (2 * Math.PI * pitch) / this.rate;
    const rounds = (time: Seconds) => 10 ** (-3 / (pitch * time));
    this.gain = rounds(low);
    this.pole = poleFor(rounds(high) / this.gain, (2 * Math.PI * 3000) / this.rate);
    // Phase delay of the loss filter at the pitch.
    const a = this.pole;
    const lossDelay = Math.atan2(-a * Math.sin(omega), 1 + a * Math.cos(omega)) / omega;
    this.period = this.rate / pitch;
    const rest = this.period - lossDelay;
    this.whole = Math.floor(rest - 0.3);
    const delay = rest - this.whole;
    this.fraction = Math.sin((omega * (1 - delay)) / 2) / Math.sin((omega * (1 + delay)) / 2);
  }

  /** Adds the string's motion at the bridge to `out`, driven by `drive`, over a stretch. */
  run(drive: Float64Array, out: Float64Array, from: Samples, until: Samples, share: number): void {
    const { line, whole, fraction, gain, pole } = this;
    const mask = line.length - 1;
    const feed = gain * (1 + pole);
    let { write, lowpassed, allpassIn, allpassOut } = this;
    for (let n = from; n < until; n++) {
      const back = line[(write - whole) & mask];
      lowpassed = feed * back - pole * lowpassed;
      allpassOut = fraction * (lowpassed - allpassOut) + allpassIn;
      allpassIn = lowpassed;
      const now = drive[n] + allpassOut;
      line[write & mask] = now;
      write += 1;
      out[n] += share * now;
    }
    this.write = write & mask;
    this.lowpassed = lowpassed;
    this.allpassIn = allpassIn;
    this.allpassOut = allpassOut;
  }
}

/** The pole (negative) at which the loss filter's gain at `omega`, against that at 0, is `ratio`. */
function poleFor(ratio: number, omega: number): number {
  let near = 0;
  let far = -0.95;
  for (let k = 0; k < 40; k++) {
    const a = (near + far) / 2;
    const gain = (1 + a) / Math.sqrt(1 + 2 * a * Math.cos(omega) + a * a);
    if (gain > ratio) near = a;
    else far = a;
  }
  return (near + far) / 2;
}
