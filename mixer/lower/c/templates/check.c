/*
 * Runs the test vectors of "@robot@" (fingerprint @fingerprint@) through mix.c.
 * Written by stickwright beside them.
 *
 *     cc -std=c99 -O2 mix.c check.c -o check && ./check
 *
 * Prints each number that differs, by the signal's name, and ends with 0 only when none does.
 */
#include "mix.h"

#include <stdio.h>
#include <stdlib.h>

#define COLUMNS @columns@
#define MOST_SHOWN 20

static long cells[COLUMNS];

/* The numbers of one line; 0 when there are not exactly COLUMNS of them. */
static int read_cells(char *line)
{
    char *at = line;
    int count = 0;
    while (count < COLUMNS) {
        char *end = at;
        cells[count] = strtol(at, &end, 10);
        if (end == at) {
            break;
        }
        count++;
        at = *end == ',' ? end + 1 : end;
    }
    return count == COLUMNS && (*at == '\n' || *at == '\r' || *at == '\0');
}

static void take_inputs(struct mix_inputs *in)
{
@inputs@
}

static long shown;

static long compare(const char *signal, int32_t got, long wanted)
{
    if ((long)got == wanted) {
        return 0;
    }
    if (shown < MOST_SHOWN) {
        printf("tick %ld: %s is %ld, the vectors say %ld\n", cells[0], signal, (long)got, wanted);
        shown++;
    }
    return 1;
}

static long compare_outputs(const struct mix_outputs *out)
{
    long wrong = 0;
@outputs@
    return wrong;
}

int main(int count, char **arguments)
{
    const char *path = count > 1 ? arguments[1] : "vectors.csv";
    static char line[@line@];
    struct mix_inputs in;
    struct mix_state state;
    struct mix_outputs out;
    long ticks = 0;
    long wrong = 0;
    FILE *file = fopen(path, "r");

    if (file == NULL || fgets(line, sizeof line, file) == NULL) {
        printf("%s cannot be read; give the path of vectors.csv\n", path);
        return 2;
    }
    mix_start(&state);
    while (fgets(line, sizeof line, file) != NULL) {
        if (!read_cells(line)) {
            printf("%s: line %ld does not have %d numbers\n", path, ticks + 2, COLUMNS);
            fclose(file);
            return 2;
        }
        take_inputs(&in);
        mix_tick(&in, &state, &out);
        wrong += compare_outputs(&out);
        ticks++;
    }
    fclose(file);
    printf("%ld ticks, %ld numbers differ\n", ticks, wrong);
    return wrong == 0 && ticks > 0 ? 0 : 1;
}
