/**
 * One transposition of the comparison that shared/hear/phrases/repeats.ts makes, with the same sums in the same order.
 *
 * @param frames twelve rows of `room` doubles: one number of every frame
 * @param own the frames that they are compared with, twelve doubles each, `step` bytes apart
 * @param here,back rows of `n` + 3 floats: `n` of them, and two more of `back`, which hold 0 at first
 * @param rows three times `n` + 3 floats
 * @param begins `n` doubles, made larger where more begins; `goesOn` `n` of them, 96 bytes apart, likewise
 */
export function repeatsAt(
  frames: usize, room: i32, own: usize, step: i32, n: i32, least: i32, keep: f64, beyond: f32,
  share: f64, here: usize, back: usize, rows: usize, begins: usize, goesOn: usize,
): void {
  const width = <usize>(n + 3) * 4;
  const column = <usize>room * 8;
  const fresh = 1 - keep;
  for (let i = least; i < n; i++) {
    const y = own + <usize>i * <usize>step;
    const to = here + <usize>i * width;
    for (let j = 0; j <= i - least; j += 2) {
      let x = frames + <usize>j * 8;
      let sum = f64x2.mul(v128.load(x), v128.load64_splat(y));
      for (let c: usize = 8; c < 96; c += 8) {
        x += column;
        sum = f64x2.add(sum, f64x2.mul(v128.load(x), v128.load64_splat(y + c)));
      }
      // One more than asked for lies in the room behind the row.
      v128.store64_lane(to + <usize>j * 4, f32x4.demote_f64x2_zero(sum), 0);
    }
  }
  for (let i = least; i < n; i++) {
    const at = back + <usize>(i + 2) * width + 8;
    const one = at - width;
    const two = one - width;
    const x = here + <usize>i * width;
    for (let j = 0; j <= i - least; j++) {
      const place = <usize>j * 4;
      const best = max(load<f32>(one + place - 4), max(load<f32>(one + place - 8), load<f32>(two + place - 4)));
      store<f32>(at + place, <f32>(fresh * <f64>load<f32>(x + place) + keep * <f64>best));
    }
  }
  let next = rows;
  let afterNext = rows + width;
  let now = afterNext + width;
  for (let at: usize = 0; at < width; at += 4) {
    store<f32>(next + at, beyond);
    store<f32>(afterNext + at, beyond);
    store<f32>(now + at, 0);
  }
  for (let i = n - 1; i >= least; i--) {
    const x = here + <usize>i * width;
    const before = back + <usize>(i + 1) * width + 4;
    let mostBegun = load<f64>(begins + <usize>i * 8);
    let mostOn = load<f64>(goesOn + <usize>i * 96);
    // What lies past this row's last pair is no step.
    store<f32>(next + <usize>(i - least + 2) * 4, -1);
    for (let j = i - least; j >= 0; j--) {
      const place = <usize>j * 4;
      const best = max(load<f32>(next + place + 4), max(load<f32>(next + place + 8), load<f32>(afterNext + place + 4)));
      const ahead = fresh * <f64>load<f32>(x + place) + keep * <f64>best;
      store<f32>(now + place, <f32>ahead);
      const begun = ahead - share * <f64>load<f32>(before + place);
      if (begun > mostBegun) mostBegun = begun;
      const to = begins + <usize>j * 8;
      if (begun > load<f64>(to)) store<f64>(to, begun);
      if (ahead > mostOn) mostOn = ahead;
    }
    if (mostBegun > load<f64>(begins + <usize>i * 8)) store<f64>(begins + <usize>i * 8, mostBegun);
    store<f64>(goesOn + <usize>i * 96, mostOn);
    const spare = afterNext;
    afterNext = next;
    next = now;
    now = spare;
  }
}
