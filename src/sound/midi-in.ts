import { type Accessor, createSignal, onCleanup } from 'solid-js';
import type { Share } from '../../shared/math/units.ts';

/** `none`: the browser knows no MIDI. `refused`: the user or the system said no. */
export type MidiState = 'not asked' | 'asking' | 'open' | 'none' | 'refused';

export interface MidiInOptions {
  /** @param velocity 0 to 1 */
  readonly press: (note: number, velocity: Share, timeStamp: number) => void;
  readonly release: (note: number, timeStamp: number) => void;
}

export interface MidiIn {
  readonly state: Accessor<MidiState>;
  /** Names of the devices that are plugged in. */
  readonly devices: Accessor<readonly string[]>;
  /** Asks for MIDI; inside a gesture, since the browser may ask the user. */
  readonly open: () => Promise<void>;
  /** The next note goes to `learn` instead of being played; null stops waiting. */
  readonly learnNext: (learn: ((note: number) => void) | null) => void;
}

/**
 * Notes from MIDI devices of any channel (MIDI 1.0 Detailed Specification, channel voice messages: 9n
 * note on, 8n note off, a note on with velocity 0 is a note off).
 */
export function createMidiIn(options: MidiInOptions): MidiIn {
  const [state, setState] = createSignal<MidiState>('not asked');
  const [devices, setDevices] = createSignal<readonly string[]>([]);
  const down = new Set<number>();
  let access: MIDIAccess | null = null;
  let learn: ((note: number) => void) | null = null;

  const hear = (event: MIDIMessageEvent) => {
    const message = readNote(event.data);
    if (!message) return;
    const { note, velocity } = message;
    if (velocity > 0 && learn) {
      learn(note);
      learn = null;
      return;
    }
    if (velocity > 0) {
      down.add(note);
      options.press(note, velocity, event.timeStamp);
    } else if (down.delete(note)) options.release(note, event.timeStamp);
  };

  const listen = () => {
    if (!access) return;
    const inputs = [...access.inputs.values()].filter((input) => input.state === 'connected');
    for (const input of inputs) input.onmidimessage = hear;
    setDevices(inputs.map((input) => input.name ?? 'MIDI device'));
    // A device that is pulled out sends no note off any more.
    for (const note of down) options.release(note, performance.now());
    down.clear();
  };

  onCleanup(() => {
    if (!access) return;
    access.onstatechange = null;
    for (const input of access.inputs.values()) input.onmidimessage = null;
  });

  return {
    state,
    devices,
    open: async () => {
      if (state() === 'asking' || state() === 'open') return;
      if (!navigator.requestMIDIAccess) return void setState('none');
      setState('asking');
      try {
        access = await navigator.requestMIDIAccess({ sysex: false });
        access.onstatechange = listen;
        listen();
        setState('open');
      } catch {
        setState('refused');
      }
    },
    learnNext: (next) => {
      learn = next;
    },
  };
}

/** A note message; velocity 0 is a note that ends. Null for every other message. */
export function readNote(
  data: Uint8Array | null,
): { readonly note: number; readonly velocity: Share } | null {
  if (!data || data.length < 3) return null;
  const kind = data[0] & 0xf0;
  if (kind !== 0x90 && kind !== 0x80) return null;
  return { note: data[1] & 0x7f, velocity: kind === 0x90 ? (data[2] & 0x7f) / 127 : 0 };
}
