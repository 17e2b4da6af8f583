// Thirty pins as the outside sees them: who drives each, and what is seen of it. rp2040js knows neither a pin that lets go
// nor what the chip itself reads on a pin that it drives.

import { cycleOf } from './clock.mjs';

const [UART, PWM, SIO] = [2, 4, 5];
const UART_PINS = new Set([0, 12, 16, 28]);
const OUTPUT_DISABLE = 0x80;
const [INPUT_ENABLE, PULL_UP] = [0x40, 0x08];
const PAD_AFTER_RESET = 0x56; // input on, 4 mA, pulled down, Schmitt trigger (data sheet 2.19.6.3)
export const UNDRIVEN = -1;

export class Pins {
  /** `outside`: what drives each from outside; a reset of the chip leaves it as it is. */
  constructor(chip, outside) {
    this.chip = chip;
    this.outside = outside;
    this.seen = new Array(30).fill(UNDRIVEN);
    this.rise = new Array(30).fill(-1); // a pulse that has begun and is not told yet, -1: none
    this.trains = new Array(30).fill(null); // equal pulses so far: [first, high, period, repeats]
    this.source = new Array(30).fill(0); // the function that drives it, 0: none
    this.level = new Array(30).fill(0); // of a pin that the chip does not drive
    chip.rp2040.gpio.forEach((gpio, pin) => {
      gpio.padValue = PAD_AFTER_RESET;
      gpio.checkForUpdates = () => this.refresh(pin);
    });
    Object.defineProperty(chip.rp2040, 'gpioValues', { get: () => this.read() });
    for (let pin = 0; pin < 30; pin++) this.listen(pin);
  }

  /** Its levels for SIO_GPIO_IN. */
  read() {
    let bits = 0;
    for (let pin = 0; pin < 30; pin++) {
      if (!(this.chip.rp2040.gpio[pin].padValue & INPUT_ENABLE)) continue;
      const level = this.source[pin] === PWM ? this.chip.pwm.level(pin) : this.source[pin] ? this.seen[pin] : this.level[pin];
      if (level) bits |= 1 << pin;
    }
    return bits;
  }

  /** What drives a pin from outside changes. */
  drive(pin, level) {
    this.outside[pin] = level;
    this.listen(pin);
  }

  listen(pin) {
    const gpio = this.chip.rp2040.gpio[pin];
    const outside = this.outside[pin];
    const level = outside === UNDRIVEN ? (gpio.padValue & PULL_UP ? 1 : 0) : outside;
    if (level === this.level[pin]) return;
    this.level[pin] = level;
    if (!this.source[pin]) gpio.setInputValue(!!level);
  }

  /** Function, pad or SIO of a pin have changed. */
  refresh(pin) {
    this.chip.pwm.settle();
    const { gpio, sio } = this.chip.rp2040;
    const function_ = gpio[pin].functionSelect;
    if (gpio[pin].ctrl & ~0x1f) this.chip.fault('IO: overrides are not modelled');
    let source = 0;
    if (function_ === PWM || (function_ === UART && UART_PINS.has(pin))) source = function_;
    else if (function_ === SIO && (sio.gpioOutputEnable >>> pin) & 1) source = function_;
    if (gpio[pin].padValue & OUTPUT_DISABLE) source = 0;
    this.source[pin] = source;
    let level = UNDRIVEN;
    if (source === PWM) level = this.chip.pwm.level(pin);
    else if (source === UART) level = 1; // its bytes are told as bytes
    else if (source === SIO) level = (sio.gpioValue >>> pin) & 1;
    this.show(pin, this.chip.clock.nanos, level);
    this.listen(pin);
  }

  show(pin, nanos, level) {
    if (this.seen[pin] === level) return;
    this.tell(pin);
    this.seen[pin] = level;
    this.chip.out.edges.push([cycleOf(nanos), pin, level]);
  }

  fromPwm(pin, nanos, level) {
    if (this.source[pin] !== PWM || this.seen[pin] === level) return;
    if (level) this.rise[pin] = cycleOf(nanos);
    else if (this.rise[pin] >= 0) {
      const begun = this.rise[pin];
      this.rise[pin] = -1;
      this.pulses(pin, begun, cycleOf(nanos) - begun, 0, 1);
    } else this.chip.out.edges.push([cycleOf(nanos), pin, 0]);
    this.seen[pin] = level;
  }

  trainFromPwm(pin, nanos, high, period, repeats) {
    if (this.source[pin] !== PWM || repeats <= 0) return;
    this.pulses(pin, cycleOf(nanos), cycleOf(high), cycleOf(period), repeats);
  }

  /** Whole pulses: those that go on as the ones before them make one train with them. */
  pulses(pin, first, high, period, repeats) {
    const train = this.trains[pin];
    if (train && train[1] === high) {
      const apart = train[3] === 1 ? first - train[0] : train[2];
      if (first === train[0] + train[3] * apart && (repeats === 1 || period === apart)) {
        train[2] = apart;
        train[3] += repeats;
        return;
      }
    }
    this.tell(pin);
    this.trains[pin] = [first, high, period, repeats];
  }

  /** What is still kept back of a pin. */
  tell(pin) {
    const train = this.trains[pin];
    if (train) {
      const [first, high, period, repeats] = train;
      if (repeats === 1) this.chip.out.edges.push([first, pin, 1], [first + high, pin, 0]);
      else this.chip.out.trains.push([first, pin, high, period, repeats]);
      this.trains[pin] = null;
    }
    if (this.rise[pin] >= 0) {
      this.chip.out.edges.push([this.rise[pin], pin, 1]);
      this.rise[pin] = -1;
    }
  }

  tellAll() {
    for (let pin = 0; pin < 30; pin++) this.tell(pin);
  }

  /** RESETS holds functions or pads. */
  afterReset(functions, pads) {
    this.chip.rp2040.gpio.forEach((gpio, pin) => {
      if (functions) Object.assign(gpio, { ctrl: 0x1f, irqEnableMask: 0, irqForceMask: 0, irqStatus: 0 });
      if (pads) gpio.padValue = PAD_AFTER_RESET;
      this.refresh(pin);
    });
  }

  /** The chip is held in reset. */
  letGo() {
    for (let pin = 0; pin < 30; pin++) {
      this.source[pin] = 0;
      this.show(pin, this.chip.clock.nanos, UNDRIVEN);
    }
  }
}
