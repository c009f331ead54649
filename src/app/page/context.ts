import { type Accessor, createContext, useContext } from 'solid-js';
import type { NamedSlice } from '../../../shared/cut/slice.ts';
import type { Lane } from '../../../shared/loop/lane.ts';
import type { MidiIn } from '../../sound/midi-in.ts';
import type { Sound } from '../../sound/sound.ts';
import type { Settings } from '../../store/settings.ts';
import type { Desk } from '../../work/desk.ts';
import type { Colours } from '../ink/colours.ts';
import type { LaneSetting } from '../lane/lane-words.ts';
import type { Playing as PadsPlaying } from '../rows/playing.ts';
import type { Actions } from './actions.ts';
import type { Carrying } from './carrying.ts';
import type { CutMark } from './cut-mark.ts';
import type { Frames } from './frames.ts';
import type { Holding } from './holding.ts';
import type { Messages } from './messages.ts';
import type { SliceName } from './naming.ts';
import type { Reading } from './reading.ts';

/** A sheet of paper laid over the page. */
export type Overlay = 'keys' | 'projects' | 'listening' | 'export' | 'tuner' | null;

/** What every region of the page works with. */
export interface PageContext {
  readonly desk: Desk;
  readonly sound: Sound;
  readonly settings: Settings;
  readonly changeSettings: (patch: Partial<Settings>) => void;
  readonly colours: Accessor<Colours>;
  readonly messages: Messages;
  readonly reading: Reading;
  readonly frames: Frames;
  readonly carrying: Carrying;
  readonly holding: Holding;
  readonly mark: CutMark;
  readonly names: Accessor<ReadonlyMap<string, SliceName>>;
  /** Ids of the slices that sound now, on their own, on pads, in the take or in the loop. */
  readonly sounding: Accessor<ReadonlySet<string>>;
  /** Ids of the placements that the loop passes over now. */
  readonly passing: Accessor<ReadonlySet<string>>;
  /** The slices in the order of their landings, told only when they change, and by id. */
  readonly slices: Accessor<readonly NamedSlice[]>;
  readonly sliceById: Accessor<ReadonlyMap<string, NamedSlice>>;
  /** The lane in view, and its words as they stand on it. */
  readonly lane: Accessor<Lane | null>;
  readonly setting: Accessor<LaneSetting>;
  readonly overlay: Accessor<Overlay>;
  readonly setOverlay: (overlay: Overlay) => void;
  /** Whether what takes the focus now is not to be chosen by that: Tab passes by, a hand chooses by itself. */
  readonly passingBy: () => boolean;
  /** Does something that gives the focus back to where it was, which chooses nothing. */
  readonly giveFocusBack: (run: () => void) => void;
  readonly tapping: Accessor<boolean>;
  readonly setTapping: (on: boolean) => void;
  readonly actions: Actions;
  readonly playing: PadsPlaying;
  readonly midi: MidiIn;
}

const context = createContext<PageContext>();

export const PageProvider = context.Provider;

export function usePage(): PageContext {
  const page = useContext(context);
  if (!page) throw new Error('Outside the page.');
  return page;
}
