/* Packs a flash image for the RP2040's boot drive. Runs on the host: uf2 IMAGE.bin IMAGE.uf2
 *
 * The chip's ROM runs an image only when the CRC in its boot stage is right (data sheet 2.8.1.3.1), so that is checked
 * here, before somebody wonders why the board stays dark. UF2 is an open format: blocks of 512 bytes with 256 of data
 * each (github.com/microsoft/uf2).
 */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define BOOT 252U
#define DATA 256U
#define BLOCK 512U
#define FLASH 0x10000000UL
#define LARGEST (2UL * 1024UL * 1024UL)
#define FAMILY_GIVEN 0x2000UL
#define FAMILY_RP2040 0xE48BFF56UL

static uint8_t image[LARGEST];

static uint32_t crc_of_boot(void)
{
    uint32_t crc = 0xFFFFFFFFUL;
    unsigned at, bit;

    for (at = 0; at < BOOT; at++) {
        crc ^= (uint32_t)image[at] << 24;
        for (bit = 0; bit < 8U; bit++) {
            crc = (crc & 0x80000000UL) ? (crc << 1) ^ 0x04C11DB7UL : crc << 1;
        }
    }
    return crc;
}

static void put(uint8_t *block, unsigned word, uint32_t value)
{
    unsigned byte;

    for (byte = 0; byte < 4U; byte++) {
        block[4U * word + byte] = (uint8_t)(value >> (8U * byte));
    }
}

static int write_blocks(FILE *out, unsigned blocks)
{
    uint8_t block[BLOCK];
    unsigned n;

    for (n = 0; n < blocks; n++) {
        memset(block, 0, sizeof block);
        put(block, 0, 0x0A324655UL);
        put(block, 1, 0x9E5D5157UL);
        put(block, 2, FAMILY_GIVEN);
        put(block, 3, (uint32_t)(FLASH + DATA * n));
        put(block, 4, DATA);
        put(block, 5, n);
        put(block, 6, blocks);
        put(block, 7, FAMILY_RP2040);
        memcpy(block + 32, image + DATA * n, DATA);
        put(block, 127, 0x0AB16F30UL);
        if (fwrite(block, sizeof block, 1, out) != 1) {
            return 0;
        }
    }
    return 1;
}

int main(int arguments, char **argument)
{
    FILE *file;
    size_t size;
    uint32_t said, crc;
    int written;

    if (arguments != 3) {
        fprintf(stderr, "uf2 IMAGE.bin IMAGE.uf2\n");
        return 2;
    }
    file = fopen(argument[1], "rb");
    if (!file) {
        perror(argument[1]);
        return 1;
    }
    size = fread(image, 1, sizeof image, file);
    fclose(file);
    if (size <= BOOT + 4U || size == sizeof image) {
        fprintf(stderr, "%s: %lu bytes are no image for this flash\n", argument[1], (unsigned long)size);
        return 1;
    }
    said = (uint32_t)image[BOOT] | (uint32_t)image[BOOT + 1U] << 8 | (uint32_t)image[BOOT + 2U] << 16
           | (uint32_t)image[BOOT + 3U] << 24;
    crc = crc_of_boot();
    if (said != crc) {
        fprintf(stderr, "%s: the chip would not start this. The boot stage's last word must be 0x%08lX, not 0x%08lX\n",
                argument[1], (unsigned long)crc, (unsigned long)said);
        return 1;
    }
    file = fopen(argument[2], "wb");
    if (!file) {
        perror(argument[2]);
        return 1;
    }
    written = write_blocks(file, (unsigned)((size + DATA - 1U) / DATA));
    if (fclose(file) != 0 || !written) {
        perror(argument[2]);
        return 1;
    }
    return 0;
}
