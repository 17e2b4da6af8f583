/* One robot's coupled step for this machine: `run` goes through many ticks and keeps what each one left. */
#include <math.h>
#include <stdint.h>
#include <string.h>

enum { STATE = @state@, SEEN = @seen@, OUTPUTS = @outputs@, PARTS = @parts@, FINER = @finer@ };
enum { MEAN, MOST, LEAST, LAST };
static const int KINDS[SEEN] = {@kinds@};

@tables@

/* Straight lines between points of rising x, the end values beyond. */
static double along(const double (*points)[2], int count, double x)
{
    int at = 0;
    while (at < count && points[at][0] <= x) {
        at++;
    }
    if (at == 0) {
        return points[0][1];
    }
    if (at == count) {
        return points[count - 1][1];
    }
    const double *from = points[at - 1], *to = points[at];
    return from[1] + (to[1] - from[1]) * (x - from[0]) / (to[0] - from[0]);
}

/* A part of a tick, and the shorter one that is taken where the battery's current changes quickly. */
static void whole(const double *restrict s, const double *restrict d, double *restrict r)
{
@whole@
}

static void fine(const double *restrict s, const double *restrict d, double *restrict r)
{
@fine@
}

static void together(double *seen, const double *now)
{
    for (int n = 0; n < SEEN; n++) {
        if (KINDS[n] == MEAN) {
            seen[n] = seen[n] + now[n];
        } else if (KINDS[n] == LAST || (KINDS[n] == MOST ? now[n] > seen[n] : now[n] < seen[n])) {
            seen[n] = now[n];
        }
    }
}

static void averaged(double *seen, int count)
{
    for (int n = 0; n < SEEN; n++) {
        if (KINDS[n] == MEAN) {
            seen[n] = seen[n] / count;
        }
    }
}

static void stepped(double *state, const double *duties, double *seen)
{
    double result[STATE + SEEN];
    whole(state, duties, result);
    if (fabs(result[STATE] - result[STATE + 1]) > @lively@) {
        for (int part = 0; part < FINER; part++) {
            fine(state, duties, result);
            memcpy(state, result, STATE * sizeof *state);
            if (part == 0) {
                memcpy(seen, result + STATE, SEEN * sizeof *seen);
            } else {
                together(seen, result + STATE);
            }
        }
        averaged(seen, FINER);
    } else {
        memcpy(state, result, STATE * sizeof *state);
        memcpy(seen, result + STATE, SEEN * sizeof *seen);
    }
}

/* `out` gets state and observations of each tick. */
void run(const double *duties, double *state, double *out, int64_t ticks);

void run(const double *duties, double *state, double *out, int64_t ticks)
{
    for (int64_t at = 0; at < ticks; at++) {
        double seen[SEEN], now[SEEN];
        stepped(state, duties + at * OUTPUTS, seen);
        for (int part = 1; part < PARTS; part++) {
            stepped(state, duties + at * OUTPUTS, now);
            together(seen, now);
        }
        if (PARTS > 1) {
            averaged(seen, PARTS);
        }
        memcpy(out + at * (STATE + SEEN), state, STATE * sizeof *state);
        memcpy(out + at * (STATE + SEEN) + STATE, seen, sizeof seen);
    }
}
