// A serial port (RP2040 data sheet 4.2, an ARM PL011): rp2040js sends in no time and is never full. Here each byte takes its
// bits' time, 32 wait, and whoever listens samples at its own rate, as the wire's other end would.

import { Block } from './block.mjs';
import { cycleOf } from './clock.mjs';

const [DR, FR, IBRD, FBRD, LCR, CR, IFLS, IMSC, RIS, MIS, ICR] = [
  0x00, 0x18, 0x24, 0x28, 0x2c, 0x30, 0x34, 0x38, 0x3c, 0x40, 0x44,
];
const [BUSY, RX_EMPTY, TX_FULL, RX_FULL, TX_EMPTY] = [0x08, 0x10, 0x20, 0x40, 0x80];
const [ENABLE, TX_ENABLE, RX_ENABLE] = [0x001, 0x100, 0x200];
const [RX_INT, TX_INT] = [0x10, 0x20];
const FIFO = 0x10;
const DEPTH = 32;
const TRIGGERS = [4, 8, 16, 24, 28];

/** What a listener at `heard` ns a bit makes of a byte sent at `sent` ns a bit; -1 where the frame is broken. */
export function overheard(byte, sent, heard) {
  const frame = (byte << 1) | (1 << 9);
  let value = 0;
  for (let bit = 0; bit < 10; bit++) {
    const at = Math.floor(((bit + 0.5) * heard) / sent);
    if (at > 9) return -1; // the next byte's start may be there
    const level = (frame >> at) & 1;
    if (bit === 0 || bit === 9) {
      if (level !== (bit ? 1 : 0)) return -1;
    } else value |= level << (bit - 1);
  }
  return value;
}

export class Uart extends Block {
  constructor(chip, irq, receivers, baud) {
    super(chip, 'UART');
    this.irq = irq;
    this.receivers = receivers; // pins that can be its input
    this.heardNs = baud ? 1e9 / baud : 0; // the listener's bit
    this.registers = { [IBRD]: 0, [FBRD]: 0, [LCR]: 0, [CR]: TX_ENABLE | RX_ENABLE, [IFLS]: 0x12, [IMSC]: 0 };
    this.waiting = []; // when each byte in the queue begins to be sent
    this.free = 0; // when the last one is through
    this.above = false;
    this.raw = 0;
    this.received = [];
    this.alarm = chip.clock.createAlarm(() => this.look());
  }

  clkPeriChanged() {}

  get bitNs() {
    const divisor = this.registers[IBRD] + this.registers[FBRD] / 64;
    return divisor ? (16e9 * divisor) / this.chip.rp2040.clkPeri : 0;
  }

  get depth() {
    return this.registers[LCR] & FIFO ? DEPTH : 1;
  }

  get trigger() {
    return this.depth === 1 ? 0 : TRIGGERS[this.registers[IFLS] & 7];
  }

  /** Take from the queue what has begun by now, and say the interrupts. */
  look() {
    const now = this.chip.clock.nanos;
    while (this.waiting.length && this.waiting[0] <= now) this.waiting.shift();
    if (this.above && this.waiting.length <= this.trigger) {
      this.above = false;
      this.raw |= TX_INT;
    }
    this.raw = this.received.length ? this.raw | RX_INT : this.raw & ~RX_INT;
    if (this.above && this.registers[IMSC] & TX_INT) {
      this.alarm.schedule(this.waiting[this.waiting.length - this.trigger - 1] - now);
    } else this.alarm.cancel();
    this.chip.rp2040.setInterrupt(this.irq, !!(this.raw & this.registers[IMSC]));
  }

  transmit(byte) {
    const control = this.registers[CR];
    const bit = this.bitNs;
    if (!(control & ENABLE) || !(control & TX_ENABLE) || !bit || !this.chip.rp2040.clocks.periFreq) {
      this.chip.fault('UART: a byte for a port that is off');
      return;
    }
    if ((this.registers[LCR] & 0x6f) !== 0x60) this.chip.fault('UART: only 8 bits without parity are modelled');
    if (this.waiting.length >= this.depth) {
      this.chip.fault('UART: a byte for a full port is lost');
      return;
    }
    const begins = Math.max(this.chip.clock.nanos, this.free);
    this.free = begins + 10 * bit;
    if (begins > this.chip.clock.nanos) this.waiting.push(begins);
    if (this.waiting.length > this.trigger) {
      this.above = true;
      this.raw &= ~TX_INT;
    }
    const heard = this.heardNs ? overheard(byte, bit, this.heardNs) : byte;
    if (heard >= 0) this.chip.out.sent.push([heard, cycleOf(this.free)]);
  }

  /** A byte has come in on the wire. */
  receive(byte) {
    const on = this.registers[CR] & ENABLE && this.registers[CR] & RX_ENABLE;
    const wired = this.receivers.some((pin) => this.chip.rp2040.gpio[pin].functionSelect === 2);
    if (on && wired && this.received.length < this.depth) this.received.push(byte);
    this.look();
  }

  read(offset) {
    this.look();
    if (offset in this.registers) return this.registers[offset];
    const { waiting, received, depth } = this;
    if (offset === FR) {
      return (
        (this.free > this.chip.clock.nanos ? BUSY : 0) |
        (waiting.length >= depth ? TX_FULL : 0) |
        (waiting.length ? 0 : TX_EMPTY) |
        (received.length ? 0 : RX_EMPTY) |
        (received.length >= depth ? RX_FULL : 0)
      );
    }
    if (offset === DR) {
      const byte = received.shift() ?? 0;
      this.look();
      return byte;
    }
    return { [RIS]: this.raw, [MIS]: this.raw & this.registers[IMSC] }[offset];
  }

  write(offset, value, raw) {
    this.look();
    if (offset === DR) this.transmit(raw & 0xff);
    else if (offset === ICR) this.raw &= ~raw;
    else if (offset in this.registers) this.registers[offset] = value;
    else return false;
    this.look();
    return true;
  }
}
