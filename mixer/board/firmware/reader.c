#include "reader.h"

/* A pulse longer than 5 ms is a wire that hangs high. */
#define LONGEST 10000U
/* Between two edges of a pulse-sum train lie 0.7 to 2.5 ms (common practice); more is the gap between trains. */
#define GAP 5400U
#define NO_TRAIN 0xFFU

void reader_init(reader_t *reader, uint8_t channels, uint8_t pulse_sum, uint16_t levels)
{
    uint8_t k;

    reader->channels = channels;
    reader->pulse_sum = pulse_sum;
    reader->levels = levels;
    reader->running = 0;
    reader->at = NO_TRAIN;
    for (k = 0; k < READER_MOST_CHANNELS; k++) {
        reader->widths[k] = 0;
    }
}

/* A train counts only as a whole: with an edge too many or too few every later channel would be another's. */
static void end_train(reader_t *reader)
{
    if (reader->at == reader->channels) {
        uint8_t k;

        for (k = 0; k < reader->channels; k++) {
            reader->widths[k] = reader->train[k];
        }
    }
    reader->at = 0;
    reader->running = 0;
}

static void rise_of_sum(reader_t *reader, uint16_t time)
{
    uint16_t since = (uint16_t)(time - reader->began[0]);

    if (reader->running && since > GAP) {
        end_train(reader);
    }
    if (reader->running && reader->at != NO_TRAIN) {
        if (reader->at < reader->channels) {
            reader->train[reader->at] = since;
        }
        if (reader->at < NO_TRAIN - 1U) {
            reader->at++;
        }
    }
    reader->began[0] = time;
    reader->running = 1;
}

void reader_edge(reader_t *reader, uint16_t time, uint16_t levels)
{
    uint16_t changed = levels ^ reader->levels;
    uint16_t bit = 1;
    uint8_t k;

    reader->levels = levels;
    if (reader->pulse_sum) {
        if (changed & levels & 1U) {
            rise_of_sum(reader, time);
        }
        return;
    }
    for (k = 0; k < reader->channels; k++, bit = (uint16_t)(bit << 1)) {
        if (!(changed & bit)) {
            continue;
        }
        if (levels & bit) {
            reader->began[k] = time;
            reader->running |= bit;
        } else if (reader->running & bit) {
            reader->widths[k] = (uint16_t)(time - reader->began[k]);
            reader->running &= (uint16_t)~bit;
        }
    }
}

void reader_watch(reader_t *reader, uint16_t now)
{
    uint16_t bit = 1;
    uint8_t k;

    if (!reader->running) {
        return;
    }
    if (reader->pulse_sum) {
        if ((uint16_t)(now - reader->began[0]) > GAP) {
            end_train(reader);
        }
        return;
    }
    for (k = 0; k < reader->channels; k++, bit = (uint16_t)(bit << 1)) {
        if ((reader->running & bit) && (uint16_t)(now - reader->began[k]) > LONGEST) {
            reader->running &= (uint16_t)~bit;
        }
    }
}

void reader_take(reader_t *reader, uint16_t *widths)
{
    uint8_t k;

    for (k = 0; k < reader->channels; k++) {
        widths[k] = reader->widths[k];
        reader->widths[k] = 0;
    }
}
