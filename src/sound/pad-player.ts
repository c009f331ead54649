import { type Accessor, createSignal } from 'solid-js';
import { landsOnAttack } from '../../shared/cut/on-attack.ts';
import type { Pad } from '../../shared/cut/pad.ts';
import type { NamedSlice, Slice } from '../../shared/cut/slice.ts';
import type { Onset } from '../../shared/hear/heard.ts';
import type { Seconds } from '../../shared/math/units.ts';
import { type PadPlace, samePlace } from '../store/pad-commands.ts';
import type { Buffers } from './buffers.ts';
import type { Graph } from './engine.ts';
import { isHeard, type PartChoice, partsOf } from './parts.ts';
import type { Sounding, SoundSource } from './sound.ts';
import { createTogether } from './together.ts';
import { makeVoice, type Voice } from './voice.ts';

/** How quickly a sound is cut off by another, and how it goes when its key is let go. */
const chokeFade: Seconds = 0.005;
const releaseFade: Seconds = 0.03;
/** The fades that every cut gets, so that it doesn't click; the attack stands behind the first. */
const cutFadeIn: Seconds = 0.001;
/** Of a slice that was cut in the middle of a sound: no attack is there to be spoilt. */
const soundFadeIn: Seconds = 0.005;
const cutFadeOut: Seconds = 0.006;

/** A source that begins late by a burst of blocks ends when it was to end (Chromium): it loses silence, not its tail. */
const patience: Seconds = 0.05;

interface Hit {
  readonly place: PadPlace | null;
  readonly slice: string;
  readonly choke: string | null;
  readonly held: boolean;
  readonly voices: readonly Voice[];
}

/** Plays slices at once: from pads, many together, and one by one. */
export interface PadPlayer {
  readonly press: (
    graph: Graph,
    source: SoundSource,
    pad: Pad,
    slice: NamedSlice | Slice,
    velocity: number,
  ) => void;
  readonly release: (place: PadPlace) => void;
  readonly playSlice: (graph: Graph, source: SoundSource, slice: Slice, id: string) => void;
  /** The sound of a pad as its pitch was rendered for a slice; null forgets it. */
  readonly setPadSound: (pad: Pad, slice: Slice, sound: SoundSource | null) => void;
  /** The attacks that were heard: a slice that lands on none of them is faded in. */
  readonly setOnsets: (onsets: readonly Onset[]) => void;
  readonly sounding: Accessor<Sounding>;
  readonly stop: () => void;
  /** Lets go of everything, the graph being gone. */
  readonly forget: () => void;
}

/** What a rendering depends on. */
const soundOf = (pad: Pad, { start, end }: Slice) =>
  [start, end, pad.semitones, pad.cents, pad.formants ?? 'moved'].join(' ');
const keyOf = (place: PadPlace) => `${place.row} ${place.key}`;

export function createPadPlayer(buffers: Buffers, choice: PartChoice): PadPlayer {
  const [sounding, setSounding] = createSignal<Sounding>({ slices: [], pads: [] });
  const rendered = new Map<string, { readonly of: string; readonly sound: SoundSource }>();
  const together = createTogether();
  let hits: Hit[] = [];
  let onsets: readonly Onset[] = [];

  /** What is shown comes after all that came down together: the second finger must not wait for the first one's ink. */
  let showing = false;
  const show = () => {
    if (showing) return;
    showing = true;
    setTimeout(() => {
      showing = false;
      setSounding({
        slices: [...new Set(hits.map((hit) => hit.slice))],
        pads: hits.flatMap((hit) => (hit.place ? [hit.place] : [])),
      });
    });
  };

  /** @param instead what is struck in their place sounds from that graph's next gate on; else they go at once */
  const cut = (which: (hit: Hit) => boolean, fade: Seconds, instead?: Graph) => {
    const gone = hits.filter(which);
    if (gone.length === 0) return;
    hits = hits.filter((hit) => !gone.includes(hit));
    const silence = () => {
      for (const hit of gone) for (const voice of hit.voices) voice.stop(fade);
    };
    if (instead) together(instead).asItOpens(silence);
    else silence();
    show();
  };

  const begin = (hit: Hit) => {
    hits.push(hit);
    let left = hit.voices.length;
    for (const voice of hit.voices)
      voice.onEnd(() => {
        left -= 1;
        if (left > 0 || !hits.includes(hit)) return;
        hits = hits.filter((other) => other !== hit);
        show();
      });
    show();
  };

  /** The voices of one hit: one for the mix, or one for each stem that is heard. All start on one sample. */
  const strike = (
    graph: Graph,
    source: SoundSource,
    slice: NamedSlice | Slice,
    how: { gain: number; speed: number; backwards: boolean; repeats: boolean; struck: boolean },
  ): Voice[] => {
    const fades = slice as Partial<NamedSlice>;
    const lead = slice.landing - slice.start;
    const forwards = how.struck ? Math.min(cutFadeIn, lead / 2) : soundFadeIn;
    const fadeIn = fades.fadeIn ?? (how.backwards ? cutFadeIn : forwards);
    const heard = partsOf(source, choice).filter(({ part }) => isHeard(source, choice, part));
    const { gate, keep } = together(graph);
    const voices = heard.map(({ audio }) => {
      const rate = audio.sampleRate;
      const from = Math.round(slice.start * rate);
      const until = Math.round(slice.end * rate);
      const buffer = buffers.cut(audio, {
        from,
        until,
        fadeIn: Math.min(Math.round(fadeIn * rate), until - from),
        fadeOut: Math.round((fades.fadeOut ?? cutFadeOut) * rate),
        backwards: how.backwards,
        rest: how.repeats ? 0 : Math.round(patience * rate),
      });
      return makeVoice(graph, {
        buffer,
        destination: gate,
        speed: how.speed,
        gain: how.gain,
        ...(how.repeats ? { round: { from: 0, until: 0 } } : {}),
      });
    });
    keep(voices);
    return voices;
  };

  const isStruck = (slice: Slice) => onsets.length === 0 || landsOnAttack(slice, onsets);

  return {
    sounding,
    setOnsets: (next) => {
      onsets = next;
    },
    press: (graph, source, pad, slice, velocity) => {
      // One source a hit: a pad that is struck again cuts off what it still plays, as does its choke group.
      cut(
        (hit) =>
          (hit.place && samePlace(hit.place, pad)) ||
          (pad.choke !== null && hit.choke === pad.choke),
        chokeFade,
        graph,
      );
      // What was rendered for another slice or pitch is not this pad's: its own is on its way.
      const known = rendered.get(keyOf(pad));
      const own = known?.of === soundOf(pad, slice) ? known.sound : null;
      const length = slice.end - slice.start;
      const moved = own
        ? { ...slice, start: 0, landing: slice.landing - slice.start, end: length }
        : slice;
      const voices = strike(graph, own ?? source, moved, {
        // Square law: half as hard is a quarter as loud (common practice, no source).
        gain: 10 ** (pad.level / 20) * velocity * velocity,
        speed: own ? 1 : 2 ** ((pad.semitones + pad.cents / 100) / 12),
        backwards: pad.direction === 'backwards',
        repeats: pad.play === 'repeats',
        struck: isStruck(slice),
      });
      const { row, key } = pad;
      begin({
        place: { row, key },
        slice: pad.slice,
        choke: pad.choke,
        held: pad.play !== 'through',
        voices,
      });
    },
    release: (place) =>
      cut((hit) => hit.held && hit.place !== null && samePlace(hit.place, place), releaseFade),
    playSlice: (graph, source, slice, id) => {
      cut((hit) => hit.place === null, chokeFade, graph);
      const voices = strike(graph, source, slice, {
        gain: 1,
        speed: 1,
        backwards: false,
        repeats: false,
        struck: isStruck(slice),
      });
      begin({ place: null, slice: id, choke: null, held: false, voices });
    },
    setPadSound: (pad, slice, sound) => {
      if (sound) rendered.set(keyOf(pad), { of: soundOf(pad, slice), sound });
      else rendered.delete(keyOf(pad));
    },
    stop: () => cut(() => true, releaseFade),
    forget: () => {
      hits = [];
      show();
    },
  };
}
