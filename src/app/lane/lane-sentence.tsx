import type { Lane } from '../../../shared/loop/lane.ts';
import { type GridDivision, gridDivisions } from '../../../shared/time/grid.ts';
import { changeLane, laneLimits } from '../../store/lane-commands.ts';
import { usePage } from '../page/context.ts';
import { ChoiceValue } from '../sentence/choice-value.tsx';
import { type ChangeKind, NumberValue } from '../sentence/number-value.tsx';
import { createSweep } from '../sentence/sweep.ts';
import { counted, figure, opening } from '../sentence/words.ts';

const grids: Record<GridDivision, string> = {
  '4': 'quarters',
  '8': 'eighths',
  '8t': 'eighth triplets',
  '16': 'sixteenths',
  '16t': 'sixteenth triplets',
  '32': 'thirty-seconds',
};

const metres = [
  '2/4',
  '3/4',
  '4/4',
  '5/4',
  '6/4',
  '7/4',
  '3/8',
  '5/8',
  '6/8',
  '7/8',
  '9/8',
  '12/8',
];

/** The settings of the lane as a sentence. */
export function LaneSentence(props: { readonly lane: Lane }) {
  const { desk } = usePage();
  const sweep = createSweep(desk.store);
  const change = (patch: Parameters<typeof changeLane>[1], kind: ChangeKind) =>
    sweep(changeLane(props.lane.id, patch), kind);
  const metre = () => `${props.lane.beatsPerBar}/${props.lane.beatUnit}`;
  return (
    <p class="said">
      <NumberValue
        name="bars"
        value={props.lane.bars}
        min={laneLimits.bars.from}
        max={laneLimits.bars.until}
        step={1}
        stride={4}
        show={(bars) => opening(counted(bars, 'bar'))}
        change={(bars, kind) => change({ bars }, kind)}
      />{' '}
      of{' '}
      <ChoiceValue
        name="metre"
        value={metre()}
        choices={[...new Set([...metres, metre()])].map((value) => ({ value, words: value }))}
        change={(value) => {
          const [beatsPerBar = 4, beatUnit = 4] = value.split('/').map(Number);
          change({ beatsPerBar, beatUnit }, 'step');
        }}
      />{' '}
      at{' '}
      <NumberValue
        name="tempo"
        value={props.lane.bpm}
        min={laneLimits.bpm.from}
        max={laneLimits.bpm.until}
        step={1}
        stride={5}
        show={(bpm) => `${figure(bpm, 2)} bpm`}
        change={(bpm, kind) => change({ bpm }, kind)}
        after=","
      />{' '}
      <NumberValue
        name="steady"
        value={props.lane.steady}
        min={0}
        max={100}
        step={1}
        show={(steady) => `steady ${figure(steady)} %`}
        change={(steady, kind) => change({ steady }, kind)}
        after=","
      />{' '}
      tightened{' '}
      <NumberValue
        name="tighten"
        value={props.lane.tighten}
        min={0}
        max={100}
        step={1}
        show={(tighten) => `${figure(tighten)} %`}
        change={(tighten, kind) => change({ tighten }, kind)}
      />{' '}
      to{' '}
      <ChoiceValue
        name="grid"
        value={props.lane.grid}
        choices={gridDivisions.map((value) => ({ value, words: grids[value] }))}
        change={(value) => {
          const grid = gridDivisions.find((one) => one === value);
          if (grid) change({ grid }, 'step');
        }}
        after=","
      />{' '}
      swing{' '}
      <NumberValue
        name="swing"
        value={props.lane.swing}
        min={laneLimits.swing.from}
        max={laneLimits.swing.until}
        step={1}
        show={(swing) => `${figure(swing)} %`}
        change={(swing, kind) => change({ swing }, kind)}
        after="."
      />
    </p>
  );
}
