import { WaveFile } from 'wavefile';

/** The chunks of a WAV file as the wavefile library (MIT) takes them apart; its own types leave them open. */
export interface TakenApart {
  readonly smpl: {
    readonly loops: readonly { readonly dwStart: number; readonly dwEnd: number }[];
  };
  readonly cue: {
    readonly dwCuePoints: number;
    readonly points: readonly { readonly dwSampleOffset: number }[];
  };
  readonly bext: {
    readonly description: string;
    readonly originator: string;
    readonly loudnessValue: number;
    readonly timeReference: readonly [number, number];
    readonly [field: string]: unknown;
  };
  readonly LIST: readonly {
    readonly format: string;
    readonly subChunks: readonly { readonly chunkId: string; readonly value: string }[];
  }[];
}

export const takeApart = (bytes: Uint8Array): TakenApart =>
  new WaveFile(bytes) as unknown as TakenApart;
