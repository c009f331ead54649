import type { Hertz, Samples, Share } from '../../shared/math/units.ts';

/** Mouth pressure for a level, as a share of what shuts the reed: it speaks from about a third. */
export function pressureOf(level: Share): number {
  return 0.405 + 0.15 * level;
}

/**
 * A reed on a cylinder with an open end, sample by sample, after Guillemain, Kergomard and Voinier
 * ("Real-time synthesis of clarinet-like instruments using digital impedance models", JASA
 * 118:483, 2005): a reed of one resonance, Bernoulli flow through its slit, and a bore as a delay
 * with losses. Pressures are shares of the one that shuts the reed.
 */
export class Reed {
  private readonly line = new Float64Array(2048);
  private write = 0;
  private here = 100;
  private there = 100;
  private blend = 1;
  private blendStep = 0;
  private reflected = 0;
  private lost = 0;
  private x1 = 0;
  private x2 = 0;
  private p1 = 0;
  private bell = 0;
  private readonly reed: { b: number; a1: number; a2: number };
  private readonly bellPole: number;

  constructor(private readonly rate: Hertz) {
    const omega = 2 * Math.PI * 2300;
    const damping = 0.9;
    const square = (rate / omega) ** 2;
    const half = (rate * damping) / (2 * omega);
    const a0 = square + half;
    this.reed = { b: 1 / a0, a1: (2 * square - 1) / a0, a2: (half - square) / a0 };
    this.bellPole = Math.exp((-2 * Math.PI * 1900) / rate);
  }

  /** Length of the bore, there and back; when slurred, the fingers take some milliseconds. */
  setPitch(length: Samples, slurred: boolean): void {
    this.here = this.there;
    this.there = length;
    this.blend = slurred ? 0 : 1;
    if (!slurred) this.here = length;
    this.blendStep = 1 / (0.009 * this.rate);
  }

  /** Sound outside the bell for a mouth pressure. */
  step(mouth: number): number {
    let arriving = this.read(this.there);
    if (this.blend < 1) {
      const old = this.read(this.here);
      arriving = old + (arriving - old) * this.blend;
      this.blend = Math.min(1, this.blend + this.blendStep);
    }
    // The open end turns the wave over and keeps its top back (it goes out); walls take some more.
    this.reflected += (1 - this.bellPole) * (arriving - this.reflected);
    this.lost += 0.82 * (0.955 * this.reflected - this.lost);
    const back = -this.lost;

    const { b, a1, a2 } = this.reed;
    const x = b * this.p1 + a1 * this.x1 + a2 * this.x2;
    this.x2 = this.x1;
    this.x1 = x;
    const slit = 0.36 * Math.max(0, 1 - mouth + x);
    const drop = mouth - 2 * back;
    const flow =
      0.5 * Math.sign(drop) * slit * (Math.sqrt(slit * slit + 4 * Math.abs(drop)) - slit);
    this.p1 = 2 * back + flow;
    this.line[this.write & 2047] = back + flow;
    this.write += 1;

    // What goes out is the change of the flow at the bell.
    const out = arriving + this.reflected;
    const sound = out - this.bell;
    this.bell = out;
    return sound;
  }

  /** The wave `length` samples ago, between samples by a third-order polynomial (Lagrange). */
  private read(length: number): number {
    const whole = Math.floor(length);
    const d = length - whole + 1;
    const { line } = this;
    const at = this.write - whole + 1;
    const d1 = d - 1;
    const d2 = d - 2;
    const d3 = d - 3;
    return (
      (-d1 * d2 * d3 * line[at & 2047]) / 6 +
      (d * d2 * d3 * line[(at - 1) & 2047]) / 2 -
      (d * d1 * d3 * line[(at - 2) & 2047]) / 2 +
      (d * d1 * d2 * line[(at - 3) & 2047]) / 6
    );
  }
}
