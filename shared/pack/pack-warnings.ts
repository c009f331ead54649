import type { Decibels } from '../math/units.ts';
import { leadRound } from './lane-midi.ts';
import type { StatedLane } from './manifest.ts';
import type { PackInput } from './pack-input.ts';

/** True peaks above this are warned of (EBU R 128 allows -1 dBTP); nothing is ever limited. */
const loudestPeak: Decibels = -1;

/** What whoever opens the pack should know before it surprises them. */
export function warningsOf(input: PackInput, lanes: readonly StatedLane[]): string[] {
  const warnings: string[] = [];
  const { beats, key, tuning } = input.heard;
  if (beats.length < 2)
    warnings.push('No beat is known, so the tempo map keeps to 120 beats a minute throughout.');
  const unsure = beats.filter((beat) => beat.by === 'heard' && beat.confidence < 0.5).length;
  if (unsure > 0)
    warnings.push(
      `${unsure} of ${beats.length} beats ${unsure === 1 ? 'is' : 'are'} uncertain and ${unsure === 1 ? 'was' : 'were'} not confirmed; check the tempo map there.`,
    );
  if (key.mode === 'unclear') warnings.push('The key is unclear.');
  if (Math.abs(tuning.cents) > 5 && tuning.confidence > 0.3)
    warnings.push(
      `The take is ${Math.abs(tuning.cents).toFixed(0)} cents ${tuning.cents > 0 ? 'above' : 'below'} A4 = 440 Hz.`,
    );
  for (const [i, lane] of lanes.entries()) {
    const own = input.lanes[i];
    const lead = own ? Math.round(leadRound(own, input.slices, lane.landings) * 1000) : 0;
    if (lead > 0)
      warnings.push(
        `${lane.midi} begins a slice ${lead} ms before its first bar: that note stands at its end and sounds from the second round on; let it go round, and the sampler play slices through.`,
      );
    if (!/^quiet/.test(lane.seam.verdict))
      warnings.push(`The seam of "${lane.name}": ${lane.seam.verdict}.`);
    for (const file of lane.files) {
      const peak = file.loudness.truePeak;
      if (peak === null) warnings.push(`${file.file} is silent.`);
      else if (peak > loudestPeak)
        warnings.push(
          `${file.file} peaks at ${peak.toFixed(1)} dBTP, above ${loudestPeak}: ${peak > 0 && file.bits !== '32f' ? 'it is clipped' : 'it may clip when it is coded'}; turn it down or save it as 32-bit float.`,
        );
    }
  }
  return warnings;
}
