/**
 * Input that can't be read or makes no sense. The message is one sentence for a person: what is
 * wrong, where, and what to do. The command ends with 3, the page sets it in the margin.
 */
export class InputError extends Error {
  override readonly name = 'InputError';
}
