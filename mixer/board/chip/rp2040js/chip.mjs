// A whole RP2040 on rp2040js: what that does not do, or does wrong, is done by the files beside this one. What neither has
// is told as a fault instead of being passed over, with these exceptions: the second core sleeps, RAM banks and buses never
// make one wait for another, the ring oscillator does not drift, and the ROM takes no time before the boot stage.

import { Blocks } from './blocks.mjs';
import { Clock, CYCLE_NS, cycleOf } from './clock.mjs';
import { Pins, UNDRIVEN } from './pins.mjs';
import { Resets, Supply, Watchdog, exactSysTick, slowOscillators } from './power.mjs';
import { Pwm } from './pwm.mjs';
import { Uart } from './uart.mjs';

const [RAM, RAM_END, FLASH] = [0x20000000, 0x20042000, 0x10000000];
const BOOT_STAGE = 0x20041f00; // where the ROM puts it (data sheet 2.8.1.3.1)
const RING_OSCILLATOR_HZ = 6.4e6; // 6.5 nominal, and anything from 1.8 to 12 (2.17.1)
const [ENTRY_CYCLES, EXIT_CYCLES] = [15, 13]; // of an interrupt, on a Cortex-M0+ without wait states
const HARD_FAULT = 3;
const [POWER, PIN, LOW_SUPPLY, WATCHDOG] = [1, 2, 4, 8];
const CAUSES = { [POWER]: 1 << 8, [LOW_SUPPLY]: 1 << 8, [PIN]: 1 << 16 };
const UART0_RECEIVERS = [1, 13, 17, 29];
const TIMER = 0x40054;
const LOOK_NS = 50e6;
const MOST_AT_ONCE = 1000;

/** CRC-32 as the boot ROM reckons it: 04C11DB7 from FFFFFFFF, highest bit first. */
export function bootCheck(bytes) {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte << 24;
    for (let bit = 0; bit < 8; bit++) crc = crc < 0 || crc >>> 31 ? (crc << 1) ^ 0x04c11db7 : crc << 1;
  }
  return crc >>> 0;
}

export class Chip {
  /** `parts`: [address, bytes] of the flash image. `baud`: at which rate somebody listens to the serial port, 0: any. */
  constructor(RP2040, parts, { seed = 1, baud = 0 } = {}) {
    // It would fill 16 MB of flash and start a program that is not there yet.
    this.Bare = class extends RP2040 {
      reset() {}
    };
    Object.assign(this, { parts, baud, noise: seed >>> 0 || 1 });
    this.clock = new Clock();
    this.outside = new Array(30).fill(UNDRIVEN);
    this.millivolts = [0, 0, 0, 0];
    this.coming = []; // edges: [nanos, pin, level]
    this.played = 0; // how many of them
    this.serial = []; // bytes not yet come in: [nanos, byte]
    this.faults = new Set();
    this.out = this.nothing();
    this.power(POWER, 0);
  }

  nothing() {
    return { edges: [], trains: [], sent: [], resets: [] };
  }

  fault(words) {
    this.faults.add(words);
  }

  /** The same every time for the same seed (Marsaglia's xorshift). */
  random() {
    this.noise ^= this.noise << 13;
    this.noise ^= this.noise >>> 17;
    this.noise = (this.noise ^ (this.noise << 5)) >>> 0;
    return this.noise;
  }

  /** A new chip on the same clock. All but power leave RAM as it is. */
  power(reason, held, watchdogReason = 0) {
    const { clock } = this;
    const before = this.rp2040;
    this.pins?.letGo();
    this.out.resets.push([cycleOf(clock.nanos), reason]);
    this.rp2040 = new this.Bare(clock);
    clock.forget(); // the chip before, and PWM slices of rp2040js
    const { rp2040 } = this;
    if (before && !(reason & POWER)) rp2040.sram.set(before.sram);
    else new Uint32Array(rp2040.sram.buffer).forEach((_, at, words) => (words[at] = this.random()));
    const scratch = reason === WATCHDOG ? this.watchdog.scratch : new Array(8).fill(0);
    this.out.sent = this.out.sent.filter(([, cycle]) => cycle <= cycleOf(clock.nanos)); // the others never got out
    const cause = reason === WATCHDOG ? this.cause : (CAUSES[reason & LOW_SUPPLY ? LOW_SUPPLY : reason] ?? 0);
    this.cause = cause;
    for (const [address, bytes] of this.parts) rp2040.flash.set(bytes, address - FLASH);
    this.dressed(watchdogReason, scratch, cause);
    this.startsAt = clock.nanos + held * CYCLE_NS;
    this.booted = false;
    this.standing = false; // for good
    this.standAt = -1; // the address where it is to stand still
    this.haltedUntil = -1;
  }

  /** Everything that is done otherwise than rp2040js does it. */
  dressed(watchdogReason, scratch, cause) {
    const { rp2040 } = this;
    const logger = { debug() {}, info() {}, warn: (_, words) => this.warned(words), error: (_, words) => this.warned(words) };
    rp2040.logger = logger;
    rp2040.core.interruptsUpdated = false;
    this.lineRead = new Set();
    this.blocks = new Blocks(rp2040.sram);
    this.pwm = rp2040.pwm = rp2040.peripherals[0x40050] = new Pwm(this);
    this.uart = rp2040.uart[0] = rp2040.peripherals[0x40034] = new Uart(this, 20, UART0_RECEIVERS, this.baud);
    this.watchdog = rp2040.peripherals[0x40058] = new Watchdog(this, watchdogReason, scratch);
    this.resets = rp2040.peripherals[0x4000c] = new Resets(this);
    rp2040.peripherals[0x40064] = new Supply(this, cause);
    rp2040.roscFreq = RING_OSCILLATOR_HZ;
    rp2040.updateClocks();
    this.cycleNs = 1e9 / rp2040.clkSys;
    rp2040.addClockListener((now) => {
      this.pwm.settle();
      this.cycleNs = 1e9 / now;
      this.clock.snap();
    });
    this.millivolts.forEach((value, input) => this.setAnalog(input, value));
    exactSysTick(this);
    slowOscillators(this);
    this.dressBus();
    this.dressInterrupts();
    this.pins = new Pins(this, this.outside);
  }

  /** RAM without detours, flash at its pace, and no block that is still in reset. */
  dressBus() {
    const { rp2040 } = this;
    const { sramView } = rp2040;
    const [read32, read16, write32] = ['readUint32', 'readUint16', 'writeUint32'].map((name) => rp2040[name].bind(rp2040));
    const find = rp2040.findPeripheral.bind(rp2040);
    rp2040.readUint32 = (at) => {
      const address = at >>> 0;
      if (address & 3) this.faulted = true;
      if (address >= RAM && address < RAM_END - 3) return sramView.getUint32(address - RAM, true);
      this.waitForFlash(address);
      return read32(address);
    };
    rp2040.readUint16 = (at) => {
      const address = at >>> 0;
      if (address & 1) this.faulted = true;
      if (address >= RAM && address < RAM_END - 1) return sramView.getUint16(address - RAM, true);
      this.waitForFlash(address);
      return read16(address);
    };
    rp2040.writeUint32 = (at, value) => {
      const address = at >>> 0;
      if (address & 3) this.faulted = true;
      if (address >= RAM && address < RAM_END - 3) {
        sramView.setUint32(address - RAM, value, true);
        if (address - RAM < this.blocks.memory.code) this.blocks.forget();
      } else if (address >>> 24 === 0x10) this.fault('flash is written as if it were RAM');
      else write32(address, value);
    };
    for (const name of ['writeUint8', 'writeUint16']) {
      const write = rp2040[name].bind(rp2040);
      rp2040[name] = (at, value) => {
        write(at, value);
        if (at >>> 0 >= RAM && (at >>> 0) - RAM < this.blocks.memory.code) this.blocks.forget();
      };
    }
    rp2040.findPeripheral = (address) => {
      const block = (address >>> 14) << 2;
      if (this.resets.holds(block)) this.fault(`a register of a block in reset: ${(address >>> 0).toString(16)}`);
      if (block === TIMER && !this.watchdog.countNs) this.fault('the timer is used without its tick');
      return find(address);
    };
  }

  /** Each eight bytes of flash are fetched once: command, address and data, a bit every BAUDR cycles (2.6.3, 4.10). */
  waitForFlash(address) {
    if (address >>> 24 !== 0x10 || this.lineRead.has(address >>> 3)) return;
    this.lineRead.add(address >>> 3);
    this.clock.nanos += 96 * (this.rp2040.peripherals[0x18000].baudr || 4) * this.cycleNs;
  }

  dressInterrupts() {
    const { core } = this.rp2040;
    const [enter, leave] = [core.exceptionEntry.bind(core), core.exceptionReturn.bind(core)];
    core.exceptionEntry = (number) => {
      enter(number);
      this.clock.nanos += ENTRY_CYCLES * this.cycleNs;
    };
    core.exceptionReturn = (how) => {
      leave(how);
      this.clock.nanos += EXIT_CYCLES * this.cycleNs;
      if (this.haltedUntil > this.clock.nanos) this.rest();
    };
    this.rp2040.onBreak = () => (this.faulted = true);
  }

  /** What rp2040js warns of is a hard fault where an address or an instruction is none. */
  warned(words) {
    if (/invalid memory|undefined address|not implemented|not 32 bit aligned/.test(words)) this.faulted = true;
    else this.fault(String(words));
  }

  blocksReset(begun) {
    const { rp2040 } = this;
    this.pwm.settle();
    if (begun & (1 << 14)) this.pwm = rp2040.pwm = rp2040.peripherals[0x40050] = new Pwm(this);
    if (begun & (1 << 22)) {
      this.uart.alarm.cancel();
      this.uart = rp2040.uart[0] = rp2040.peripherals[0x40034] = new Uart(this, 20, UART0_RECEIVERS, this.baud);
    }
    if (begun & (1 << 5 | 1 << 8 | 1 << 14)) this.pins.afterReset(begun & (1 << 5), begun & (1 << 8));
  }

  watchdogReset(reason) {
    this.restart = [WATCHDOG, 0, reason]; // after the instruction or alarm that did it
  }

  /** The program stands still until then; handlers of interrupts run, and one that runs now runs to its end. */
  halt(nanos) {
    this.haltedUntil = nanos;
    this.rest();
  }

  rest() {
    const { core } = this.rp2040;
    if (core.IPSR === 0 && !core.waiting && !core.checkForInterrupts()) core.waiting = true;
  }

  goOn() {
    this.haltedUntil = -1;
    this.rp2040.core.waiting = false;
  }

  /** The program has come to where it is to stand: a handler stands for good, and with it what is not more urgent. */
  stand() {
    this.standAt = -1;
    if (this.rp2040.core.IPSR) this.standing = true;
    else this.halt(Infinity);
  }

  /** What the ROM does with flash. */
  boot() {
    const { rp2040 } = this;
    const { core } = rp2040;
    const stage = rp2040.flash.subarray(0, 256);
    this.booted = true;
    if (bootCheck(stage.subarray(0, 252)) !== new DataView(stage.slice().buffer).getUint32(252, true)) {
      this.fault('the boot stage has a wrong check sum: the chip would wait for an image over USB');
      this.standing = true;
      return;
    }
    rp2040.sram.set(stage, BOOT_STAGE - RAM);
    this.blocks.forget();
    core.SP = RAM_END - 0x100;
    core.PC = BOOT_STAGE;
  }

  setAnalog(input, millivolts) {
    this.millivolts[input] = millivolts;
    this.rp2040.adc.channelValues[input] = Math.max(0, Math.min(4095, Math.floor((millivolts * 4096) / 3300)));
  }

  /** Bytes into its serial input, one after the other. */
  send(bytes, at) {
    const byteNs = 10e9 / (this.baud || 115200);
    bytes.forEach((byte, n) => this.serial.push([at * CYCLE_NS + (n + 1) * byteNs, byte]));
    this.serial.sort((a, b) => a[0] - b[0]);
  }

  play(edges) {
    if (this.played === this.coming.length) {
      this.coming = [];
      this.played = 0;
    }
    for (let at = 0; at < edges.length; at += 3) this.coming.push([edges[at] * CYCLE_NS, edges[at + 1], edges[at + 2]]);
  }

  /** Everything from outside that is due. Returns when the next is. */
  stimulate(end) {
    const { coming, serial } = this;
    const now = this.clock.nanos;
    while (this.played < coming.length && coming[this.played][0] <= now) {
      const [, pin, level] = coming[this.played++];
      this.pins.drive(pin, level);
    }
    while (serial.length && serial[0][0] <= now) this.uart.receive(serial.shift()[1]);
    if (this.haltedUntil >= 0 && this.haltedUntil <= now) this.goOn();
    let next = end;
    if (this.haltedUntil >= 0 && this.haltedUntil < next) next = this.haltedUntil;
    if (this.played < coming.length && coming[this.played][0] < next) [next] = coming[this.played];
    if (serial.length && serial[0][0] < next) [[next]] = serial;
    return next;
  }

  stumble() {
    const { core } = this.rp2040;
    this.faulted = false;
    if (core.IPSR === HARD_FAULT) this.standing = true; // lockup
    else core.exceptionEntry(HARD_FAULT);
  }

  restarted() {
    const [reason, held, watchdogReason] = this.restart;
    this.restart = null;
    this.pwm.settle();
    this.power(reason, held, watchdogReason);
  }

  /** Instructions until something else is due. */
  execute(horizon) {
    const { clock, blocks } = this;
    const { core } = this.rp2040;
    const { registers } = core;
    while (clock.nanos < horizon && clock.nanos < clock.due && !core.waiting && !this.restart) {
      const pc = (registers[15] & ~1) >>> 0;
      if (pc === this.standAt) {
        this.stand();
        return;
      }
      if (core.interruptsUpdated && core.checkForInterrupts()) continue; // a handler's first instruction comes later
      const block = this.standAt < 0 ? blocks.at(pc) : null;
      const through = block ? clock.nanos + block.most * this.cycleNs : Infinity;
      if (through < horizon && through < clock.due) {
        const cycles = block.run(registers, core, blocks.memory);
        core.cycles += cycles;
        clock.nanos += cycles * this.cycleNs;
        if (cycles) continue;
      }
      const before = core.cycles;
      // rp2040js forgets LR among what a PUSH stores, and PC among what a POP loads (ARM DDI 0484, table 3-1).
      if ((blocks.memory.halves[(pc - RAM) >>> 1] & 0xf700) === 0xb500) core.cycles++;
      core.executeInstruction();
      clock.nanos += (core.cycles - before) * this.cycleNs;
      if (this.faulted) this.stumble();
    }
  }

  /** `look` is called now and then, and may end it all. */
  run(until, look) {
    const { clock } = this;
    const end = until * CYCLE_NS;
    let looked = -Infinity;
    let stood = 0;
    while (clock.nanos < end) {
      const began = clock.nanos;
      if (began - looked >= LOOK_NS) {
        look();
        looked = began;
      }
      const horizon = this.stimulate(Math.min(end, looked + LOOK_NS));
      if (this.restart) this.restarted();
      const asleep = this.standing || clock.nanos < this.startsAt || this.rp2040.core.waiting;
      if (asleep) {
        const start = clock.nanos < this.startsAt ? this.startsAt : Infinity;
        clock.nanos = Math.max(clock.nanos, Math.min(horizon, clock.due, start));
      } else {
        if (!this.booted) this.boot();
        else this.execute(horizon);
      }
      if (!this.restart) clock.fire();
      stood = clock.nanos > began ? 0 : stood + 1;
      if (stood > MOST_AT_ONCE) throw new Error(`time stands still at cycle ${cycleOf(began)}`);
    }
    this.pwm.settle();
    this.pins.tellAll();
    const { out } = this;
    this.out = this.nothing();
    this.out.sent = out.sent.filter(([, cycle]) => cycle > cycleOf(clock.nanos)); // still on their way
    out.sent = out.sent.filter(([, cycle]) => cycle <= cycleOf(clock.nanos));
    return out;
  }
}
