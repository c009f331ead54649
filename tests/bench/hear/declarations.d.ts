/** music-tempo 1.0.3 ships no types. */
declare module 'music-tempo' {
  export default class MusicTempo {
    constructor(samples: Float32Array, options?: Readonly<Record<string, number>>);
    readonly tempo: number;
    readonly beats: number[];
    readonly peaks: number[];
  }
}
