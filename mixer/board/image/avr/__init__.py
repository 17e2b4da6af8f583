"""The AVR core of the ATmega328P: its instructions, their time, and what they do to intervals."""
