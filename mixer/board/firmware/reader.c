#include "reader.h"

#if PULSE_SUM
/* Between two edges of a pulse-sum train lie 0.7 to 2.5 ms (common practice); more is the gap between trains. */
#define GAP 5400U
#define NO_TRAIN 0xFFU
#else
/* A pulse longer than 5 ms is a wire that hangs high. */
#define LONGEST 10000U
#endif

void reader_init(reader_t *reader, uint16_t levels)
{
    uint8_t k;

    reader->levels = levels;
    reader->running = 0;
#if PULSE_SUM
    reader->at = NO_TRAIN;
#endif
    for (k = 0; k < CHANNELS; k++) {
        reader->widths[k] = 0;
    }
}

#if PULSE_SUM
/* A train counts only as a whole: with an edge too many or too few every later channel would be another's. */
static void end_train(reader_t *reader)
{
    if (reader->at == CHANNELS) {
        uint8_t k;

        for (k = 0; k < CHANNELS; k++) {
            reader->widths[k] = reader->train[k];
        }
    }
    reader->at = 0;
    reader->running = 0;
}

void reader_edge(reader_t *reader, uint16_t time, uint16_t levels)
{
    uint16_t since = (uint16_t)(time - reader->began[0]);
    uint16_t rose = levels & (uint16_t)~reader->levels & 1U;

    reader->levels = levels;
    if (!rose) {
        return;
    }
    if (reader->running && since > GAP) {
        end_train(reader);
    }
    if (reader->running && reader->at != NO_TRAIN) {
        if (reader->at < CHANNELS) {
            reader->train[reader->at] = since;
        }
        if (reader->at < NO_TRAIN - 1U) {
            reader->at++;
        }
    }
    reader->began[0] = time;
    reader->running = 1;
}

void reader_watch(reader_t *reader, uint16_t now)
{
    if (reader->running && (uint16_t)(now - reader->began[0]) > GAP) {
        end_train(reader);
    }
}
#else
void reader_edge(reader_t *reader, uint16_t time, uint16_t levels)
{
    uint16_t changed = levels ^ reader->levels;
    uint16_t bit = 1;
    uint8_t k;

    reader->levels = levels;
    for (k = 0; k < CHANNELS; k++, bit = (uint16_t)(bit << 1)) {
        if (!(changed & bit)) {
            continue;
        }
        if (levels & bit) {
            reader->began[k] = time;
            reader->running |= bit;
        } else if (reader->running & bit) {
            reader->widths[k] = (uint16_t)(time - reader->began[k]);
            reader->running &= (uint16_t)~bit;
        } else {
            /* the end of a pulse whose begin was not seen */
        }
    }
}

void reader_watch(reader_t *reader, uint16_t now)
{
    uint16_t bit = 1;
    uint8_t k;

    for (k = 0; k < CHANNELS; k++, bit = (uint16_t)(bit << 1)) {
        if ((reader->running & bit) && (uint16_t)(now - reader->began[k]) > LONGEST) {
            reader->running &= (uint16_t)~bit;
        }
    }
}
#endif

void reader_take(reader_t *reader, uint16_t *widths)
{
    uint8_t k;

    for (k = 0; k < CHANNELS; k++) {
        widths[k] = reader->widths[k];
        reader->widths[k] = 0;
    }
}
