# How the program of an ATmega328P at 16 MHz is built and flashed.

CC = avr-gcc
OBJCOPY = avr-objcopy
SIZE = avr-size
CFLAGS = -mmcu=atmega328p -DF_CPU=16000000UL -O2 -ffunction-sections -fdata-sections
LINK = -Wl,--gc-sections
BOARD_SOURCES = hal_atmega328p.c capture_atmega328p.S

.PHONY: image fuses
image: $(BUILD)/firmware.hex
$(BUILD)/firmware.hex: $(BUILD)/firmware.elf
	$(OBJCOPY) -O ihex -R .eeprom $< $@

# By the boot loader of the usual boards, over their USB plug.
flash: $(BUILD)/firmware.hex
	avrdude -p m328p -c arduino -P $(PORT) -U flash:w:$<:i

# Once for each chip, by a programmer on its six pins (a boot loader cannot write fuses): make fuses PROGRAMMER=usbasp
# Extended fuse FC: reset below 4.3 V (4.1 to 4.5). The usual boards come with FD, 2.7 V, and at 16 MHz the chip is good down to
# 3.8 V only: in between it may compute anything. Only this fuse is written; clock and boot loader stay as they are.
PROGRAMMER = usbasp
fuses:
	avrdude -p m328p -c $(PROGRAMMER) -U efuse:w:0xFC:m
