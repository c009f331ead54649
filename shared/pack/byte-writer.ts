/** Little-endian fields and text, one after the other, as RIFF chunks are made of. */
export class ByteWriter {
  private bytes = new Uint8Array(256);
  private view = new DataView(this.bytes.buffer);
  private at = 0;

  /** Makes room first: the view may be another one afterwards. */
  private room(count: number): number {
    const from = this.at;
    this.at += count;
    if (this.at > this.bytes.length) {
      const more = new Uint8Array(Math.max(this.at, this.bytes.length * 2));
      more.set(this.bytes.subarray(0, from));
      this.bytes = more;
      this.view = new DataView(more.buffer);
    }
    return from;
  }

  u16(value: number): this {
    const at = this.room(2);
    this.view.setUint16(at, value, true);
    return this;
  }

  i16(value: number): this {
    const at = this.room(2);
    this.view.setInt16(at, value, true);
    return this;
  }

  u32(...values: readonly number[]): this {
    for (const value of values) {
      const at = this.room(4);
      this.view.setUint32(at, value, true);
    }
    return this;
  }

  raw(data: Uint8Array): this {
    const from = this.room(data.length);
    this.bytes.set(data, from);
    return this;
  }

  zeros(count: number): this {
    this.room(count);
    return this;
  }

  /** Text in ASCII, without marks on letters; what ASCII lacks is written `?`. */
  ascii(text: string): this {
    return this.raw(asciiOf(text));
  }

  /** ASCII text in a field of fixed length, cut or filled with zeros. */
  fixed(text: string, length: number): this {
    const field = new Uint8Array(length);
    field.set(asciiOf(text).subarray(0, length));
    return this.raw(field);
  }

  /** Chunk with its four letters, its size and its pad byte. */
  chunk(id: string, data: Uint8Array): this {
    this.ascii(id).u32(data.length).raw(data);
    return data.length % 2 === 1 ? this.zeros(1) : this;
  }

  done(): Uint8Array {
    return this.bytes.slice(0, this.at);
  }
}

/** Text as bytes of ASCII: letters lose their marks, what is left beyond it becomes `?`. */
export function asciiOf(text: string): Uint8Array {
  const plain = text
    .normalize('NFD')
    .replace(/\p{M}/gu, '')
    .replace(/[\u2018\u2019]/g, "'")
    .replace(/[\u2010-\u2015]/g, '-');
  return Uint8Array.from(plain.replace(/[^\n\r -~]/gu, '?'), (c) => c.charCodeAt(0));
}
