# How the program of an RP2040 with a 12 MHz crystal is built and flashed.

CC = arm-none-eabi-gcc
OBJCOPY = arm-none-eabi-objcopy
SIZE = arm-none-eabi-size
CFLAGS = -mcpu=cortex-m0plus -mthumb -O2 -ffunction-sections -fdata-sections
LINK = --specs=nano.specs -nostartfiles -T rp2040.ld -Wl,--gc-sections
BOARD_SOURCES = boot_rp2040.S start_rp2040.c program_rp2040.c hal_rp2040.c
BOARD_HEADERS = rp2040.h program_rp2040.h rp2040.ld

.PHONY: image
image: $(BUILD)/firmware.uf2
$(BUILD)/firmware.bin: $(BUILD)/firmware.elf
	$(OBJCOPY) -O binary $< $@

# uf2 runs on this machine, so it wants this machine's own C compiler. It also checks that the chip will start the image.
HOST_CC ?= cc
$(BUILD)/uf2: uf2.c
	$(HOST_CC) -O2 -std=c99 $(WARN) $< -o $@
$(BUILD)/firmware.uf2: $(BUILD)/firmware.bin $(BUILD)/uf2
	$(BUILD)/uf2 $< $@

# Hold BOOTSEL while the board's plug goes in: a drive named RPI-RP2 appears. It vanishes when the image is there.
DRIVE = /media/$(USER)/RPI-RP2
flash: $(BUILD)/firmware.uf2
	cp $< $(DRIVE)/
