/**
 * How long work reports: a share from 0 to 1 of the whole and what is being done, in a word or two.
 * To cancel, the caller throws from inside it (the worker ends itself instead).
 */
export type Progress = (share: number, doing: string) => void;
