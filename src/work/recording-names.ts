const endings = /\.(wav|wave|flac|mp3|ogg|oga|opus|m4a|aac|aiff?)$/i;

/** Whether a name ends as recordings' names do. */
export const endsAsRecording = (name: string): boolean => endings.test(name);

/** Whether a file gives itself out for a recording, by its ending or its type; what it holds is found out when it is read. */
const namedRecording = ({ name, type }: Pick<File, 'name' | 'type'>): boolean =>
  endsAsRecording(name) || /^(audio|video)\//.test(type);

/**
 * Of several files given at once, those that are recordings, and what to say of the others (a cover, notes). Where none is
 * named as one, and of a file given alone, all are: whoever means it may have another ending.
 */
export function sortOut(files: readonly File[]): {
  readonly recordings: readonly File[];
  readonly note: string | null;
} {
  const recordings = files.filter(namedRecording);
  const others = files.filter((file) => !namedRecording(file)).map((file) => file.name);
  if (recordings.length === 0 || others.length === 0) return { recordings: files, note: null };
  const [only] = others;
  const note =
    others.length === 1
      ? `${only} is no recording, so it was left out.`
      : `${others.slice(0, -1).join(', ')} and ${others.at(-1)} are no recordings, so they were left out.`;
  return { recordings, note };
}
