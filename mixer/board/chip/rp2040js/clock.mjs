// The one clock that everything on the chip runs by, in nanoseconds. A cycle of 128 MHz is 7.8125 of them, which a binary
// number holds exactly: from the moment when the chip runs at 128 MHz no time is ever rounded.

export const HZ = 128e6;
export const CYCLE_NS = 1e9 / HZ;
const MOST_AT_ONCE = 1000;

const wholeCycles = (nanos) => Math.ceil(nanos / CYCLE_NS - 1e-6) * CYCLE_NS;
export const cycleOf = (nanos) => Math.round(nanos / CYCLE_NS);

class Alarm {
  constructor(clock, callback) {
    this.clock = clock;
    this.callback = callback;
    this.nanos = Infinity;
    this.next = null;
  }

  schedule(delta) {
    this.clock.unlink(this);
    this.clock.link(this, this.clock.nanos + delta);
  }

  cancel() {
    this.clock.unlink(this);
  }
}

/** What rp2040js asks of a clock, and `due`: when the next alarm goes off. */
export class Clock {
  constructor() {
    this.nanos = 0;
    this.first = null;
    this.due = Infinity;
  }

  createAlarm(callback) {
    return new Alarm(this, callback);
  }

  /** To the next whole cycle: what runs at 128 MHz notices nothing in between. */
  snap() {
    this.nanos = wholeCycles(this.nanos);
  }

  link(alarm, when) {
    const nanos = wholeCycles(when);
    alarm.nanos = nanos;
    let before = null;
    let after = this.first;
    while (after && after.nanos <= nanos) [before, after] = [after, after.next];
    alarm.next = after;
    if (before) before.next = alarm;
    else this.first = alarm;
    this.due = this.first.nanos;
  }

  unlink(alarm) {
    let before = null;
    let item = this.first;
    while (item && item !== alarm) [before, item] = [item, item.next];
    if (!item) return;
    if (before) before.next = alarm.next;
    else this.first = alarm.next;
    alarm.next = null;
    this.due = this.first ? this.first.nanos : Infinity;
  }

  /** A chip that is reset forgets its alarms. */
  forget() {
    this.first = null;
    this.due = Infinity;
  }

  /** Let go off what is due by now, each at its own time. */
  fire() {
    const now = this.nanos;
    let [last, again] = [-1, 0];
    while (this.first && this.first.nanos <= now) {
      const alarm = this.first;
      this.unlink(alarm);
      this.nanos = alarm.nanos;
      again = alarm.nanos === last ? again + 1 : 0;
      if (again > MOST_AT_ONCE) throw new Error(`alarms without end at cycle ${cycleOf(last)}`);
      last = alarm.nanos;
      alarm.callback();
    }
    if (this.nanos < now) this.nanos = now;
  }
}
