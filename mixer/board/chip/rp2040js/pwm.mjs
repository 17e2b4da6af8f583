// Eight PWM slices (RP2040 data sheet 4.5), free running, counting up. rp2040js wakes for every edge and keeps a slice low
// until its first wrap. Here a slice is reckoned: nothing happens until somebody reads, writes or asks for the edges so
// far, and periods that are alike are told as one train.

import { Block } from './block.mjs';

const [CSR, DIV, CTR, CC, TOP, STRIDE] = [0x00, 0x04, 0x08, 0x0c, 0x10, 0x14];
const [EN, INTR, INTE, INTF, INTS] = [0xa0, 0xa4, 0xa8, 0xac, 0xb0];

class Slice {
  constructor(pwm, index) {
    this.pwm = pwm;
    this.bit = 1 << index;
    this.pins = [0, 1].map((channel) => {
      const pin = 2 * index + channel;
      return pin + 16 < 30 ? [pin, pin + 16] : [pin];
    });
    this.enabled = false;
    this.div = 0x10;
    this.cc = 0;
    this.top = 0xffff;
    this.count = 0; // where it stands still
    this.start = 0; // when the running period began
    this.live = [0, 0]; // what counts in the running period
    this.liveTop = 0xffff;
    this.levels = [0, 0];
  }

  get tick() {
    return ((this.div >> 4 || 256) + (this.div & 15) / 16) * this.pwm.chip.cycleNs;
  }

  get counter() {
    if (!this.enabled) return this.count;
    return Math.floor((this.pwm.chip.clock.nanos - this.start) / this.tick) & 0xffff;
  }

  latch() {
    this.live[0] = this.cc & 0xffff;
    this.live[1] = this.cc >>> 16;
    this.liveTop = this.top;
  }

  show(channel, nanos, level) {
    if (this.levels[channel] === level) return;
    this.levels[channel] = level;
    for (const pin of this.pins[channel]) this.pwm.chip.pins.fromPwm(pin, nanos, level);
  }

  /** Falls of the running period up to now. */
  fall(now, tick) {
    for (const channel of [0, 1]) {
      const at = this.start + this.live[channel] * tick;
      if (this.levels[channel] && this.live[channel] <= this.liveTop && at <= now) this.show(channel, at, 0);
    }
  }

  /** Whole periods from `start` on, all alike. */
  whole(periods, length, tick) {
    for (const channel of [0, 1]) {
      const count = this.live[channel];
      if (count === 0) this.show(channel, this.start, 0);
      else if (count > this.liveTop) this.show(channel, this.start, 1);
      else {
        const high = this.levels[channel]; // it was high without end: the first rise is none
        const fell = this.start + count * tick;
        if (high) this.show(channel, fell, 0);
        for (const pin of this.pins[channel]) {
          this.pwm.chip.pins.trainFromPwm(pin, this.start + high * length, count * tick, length, periods - high);
        }
      }
    }
    this.start += periods * length;
  }

  /** All edges up to now. */
  settle() {
    if (!this.enabled) return;
    const now = this.pwm.chip.clock.nanos;
    const tick = this.tick;
    for (;;) {
      this.fall(now, tick);
      const wrap = this.start + (this.liveTop + 1) * tick;
      if (wrap > now) return;
      this.pwm.wrapped |= this.bit;
      this.start = wrap;
      this.latch();
      const length = (this.liveTop + 1) * tick;
      const periods = Math.floor((now - wrap) / length);
      if (periods > 0) this.whole(periods, length, tick);
      for (const channel of [0, 1]) this.show(channel, this.start, this.live[channel] > 0 ? 1 : 0);
    }
  }

  /** The counter was set, or stands still: compare at once. */
  compare() {
    const { counter } = this;
    for (const channel of [0, 1]) this.show(channel, this.pwm.chip.clock.nanos, counter < this.live[channel] ? 1 : 0);
  }

  setCounter(value) {
    this.count = value;
    this.start = this.pwm.chip.clock.nanos - value * this.tick;
    this.compare();
  }

  enable(on) {
    if (on === this.enabled) return;
    if (on) {
      this.enabled = true;
      this.setCounter(this.count);
    } else {
      this.count = this.counter;
      this.enabled = false;
    }
  }

  read(register) {
    return { [CSR]: this.enabled ? 1 : 0, [DIV]: this.div, [CTR]: this.counter, [CC]: this.cc, [TOP]: this.top }[register];
  }

  write(register, value) {
    if (register === CSR) {
      if (value & ~1) return false; // phase-correct, inverted, counting an input
      this.enable(!!(value & 1));
    } else if (register === DIV) {
      const { counter } = this;
      this.div = value & 0xfff;
      if (this.enabled) this.setCounter(counter);
    } else if (register === CTR) this.setCounter(value & 0xffff);
    else if (register === CC) this.cc = value;
    else this.top = value & 0xffff;
    if (!this.enabled && (register === CC || register === TOP)) {
      this.latch();
      this.compare();
    }
    return true;
  }
}

export class Pwm extends Block {
  constructor(chip) {
    super(chip, 'PWM');
    this.wrapped = 0;
    this.slices = Array.from({ length: 8 }, (_, index) => new Slice(this, index));
    this.channels = []; // rp2040js would change their clock
  }

  gpioOnInput() {}

  settle() {
    for (const slice of this.slices) slice.settle();
  }

  level(pin) {
    const slice = this.slices[(pin >> 1) & 7];
    slice.settle();
    return slice.levels[pin & 1];
  }

  read(offset) {
    if (offset < EN) {
      const slice = this.slices[Math.floor(offset / STRIDE)];
      slice.settle();
      return slice.read(offset % STRIDE);
    }
    this.settle();
    if (offset === EN) return this.slices.reduce((bits, slice) => bits | (slice.enabled ? slice.bit : 0), 0);
    if (offset === INTR) return this.wrapped;
    return offset === INTE || offset === INTF || offset === INTS ? 0 : undefined;
  }

  write(offset, value) {
    if (offset < EN) {
      const slice = this.slices[Math.floor(offset / STRIDE)];
      slice.settle();
      return slice.write(offset % STRIDE, value);
    }
    this.settle();
    if (offset === EN) for (const slice of this.slices) slice.enable(!!(value & slice.bit));
    else if (offset === INTR) this.wrapped &= ~value;
    else return value === 0; // interrupts of the slices
    return true;
  }
}
