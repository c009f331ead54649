/** The command was called in a way that it does not understand. It ends with 2. */
export class UsageError extends Error {
  override readonly name = 'UsageError';
}
