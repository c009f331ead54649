/** Thrown where a reader asks for more than there is. */
export class EndOfBits extends Error {
  override readonly name = 'EndOfBits';
}

/** Reads numbers bit by bit, the highest first. */
export class BitReader {
  /** The byte that the next bit is in. */
  private byte: number;
  /** How many of its bits are read. */
  private used = 0;
  private readonly bytes: Uint8Array;

  constructor(bytes: Uint8Array, start: number) {
    this.bytes = bytes;
    this.byte = start;
  }

  /** Position in bytes; only where a byte begins. */
  get position(): number {
    return this.byte;
  }

  /** An unsigned number of up to 36 bits. */
  unsigned(count: number): number {
    let value = 0;
    let left = count;
    while (left > 0) {
      if (this.byte >= this.bytes.length) throw new EndOfBits();
      const here = 8 - this.used;
      const take = Math.min(here, left);
      const piece = (this.bytes[this.byte] >> (here - take)) & ((1 << take) - 1);
      // Not by shifting: the value may pass 32 bits.
      value = value * (1 << take) + piece;
      left -= take;
      this.used += take;
      if (this.used === 8) {
        this.used = 0;
        this.byte++;
      }
    }
    return value;
  }

  /** A number in two's complement. */
  signed(count: number): number {
    if (count === 0) return 0;
    const value = this.unsigned(count);
    return value >= 2 ** (count - 1) ? value - 2 ** count : value;
  }

  /** How many zeros stand before the next one, which is read too. */
  zeros(): number {
    let count = 0;
    for (;;) {
      if (this.byte >= this.bytes.length) throw new EndOfBits();
      const rest = this.bytes[this.byte] & (0xff >> this.used);
      if (rest === 0) {
        count += 8 - this.used;
        this.used = 0;
        this.byte++;
        continue;
      }
      const ahead = Math.clz32(rest) - 24 - this.used;
      this.used += ahead + 1;
      if (this.used === 8) {
        this.used = 0;
        this.byte++;
      }
      return count + ahead;
    }
  }

  /** Goes on to where the next byte begins. */
  align(): void {
    if (this.used === 0) return;
    this.used = 0;
    this.byte++;
  }
}
