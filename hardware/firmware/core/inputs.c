#include "inputs.h"

#include <string.h>

enum { ACTIVE = 1, BURST = 2, COUNTS = 4, CANDIDATE = 8, LIVE = 16 };

static uint16_t add(uint16_t sum, uint32_t more) {
    return more > (uint32_t)(UINT16_MAX - sum) ? UINT16_MAX : (uint16_t)(sum + more);
}

static void report(struct sc_inputs *inputs, uint8_t channel, bool live, uint32_t at) {
    uint16_t bit = (uint16_t)(1u << channel);
    inputs->live = (uint16_t)(live ? inputs->live | bit : inputs->live & ~bit);
    inputs->changed(inputs->context, channel, live, at);
}

/* The input has conducted from in->since to *to*. */
static void conducted(struct sc_inputs *inputs, uint8_t channel, uint32_t to) {
    struct sc_input *in = &inputs->input[channel];
    uint32_t more = to - in->since;
    in->since = to;
    in->burst = add(in->burst, more);
    if (!(in->flags & COUNTS)) {
        if (in->burst < SC_CREDIBLE_US) return;
        in->flags |= COUNTS;
        more = in->burst;
    }
    in->last = to;
    if (in->flags & LIVE) return;
    if (!(in->flags & CANDIDATE)) {
        in->flags |= CANDIDATE;
        in->first = in->begin;
        in->total = 0;
    }
    in->total = add(in->total, more);
    if (in->total < SC_ON_US) return;
    in->flags = (uint8_t)((in->flags & ~CANDIDATE) | LIVE);
    report(inputs, channel, true, in->first);
}

/* The last conduction ended by itself and not with the voltage. */
static bool ended_whole(const struct sc_input *in) {
    uint16_t apart = in->pulse > in->whole ? in->pulse - in->whole : in->whole - in->pulse;
    return in->whole > 0 && apart <= SC_ALIKE_US;
}

/* The input has not conducted from in->since to *to*. */
static void quiet(struct sc_inputs *inputs, uint8_t channel, uint32_t to) {
    struct sc_input *in = &inputs->input[channel];
    if ((in->flags & BURST) && to - in->since >= SC_QUIET_US) in->flags &= (uint8_t)~(BURST | COUNTS);
    if (!(in->flags & (LIVE | CANDIDATE)) || to - in->last < SC_OFF_US) return;
    /* A burst that began in time may yet count. */
    if ((in->flags & BURST) && !(in->flags & COUNTS) && in->begin - in->last < SC_OFF_US) return;
    if (in->flags & LIVE) report(inputs, channel, false, in->last + (ended_whole(in) ? in->pause / 2 : 0));
    in->flags &= (uint8_t)~(LIVE | CANDIDATE);
}

static void advance(struct sc_inputs *inputs, uint8_t channel, uint32_t to) {
    if (inputs->input[channel].flags & ACTIVE) conducted(inputs, channel, to);
    else quiet(inputs, channel, to);
}

static void rises(struct sc_input *in, uint32_t at) {
    in->rose = at;
    if (!(in->flags & BURST)) {
        in->flags |= BURST;
        in->begin = at;
        in->burst = 0;
    } else if ((in->flags & COUNTS) && in->pulse >= SC_HALF_WAVE_US) {
        in->whole = in->pulse;
        in->pause = (uint16_t)(at - in->since);
    }
}

/* A sample may be newer than the turn's reading of the clock. */
static uint32_t forward(struct sc_inputs *inputs, uint32_t at) {
    if ((int32_t)(at - inputs->at) > 0) inputs->at = at;
    return inputs->at;
}

void sc_inputs_begin(struct sc_inputs *inputs, uint8_t count, uint32_t now) {
    memset(inputs->input, 0, sizeof inputs->input);
    inputs->pins = inputs->live = 0;
    inputs->count = count;
    inputs->at = now;
}

void sc_inputs_sample(struct sc_inputs *inputs, uint16_t pins, uint32_t at) {
    uint16_t changed = pins ^ inputs->pins;
    at = forward(inputs, at);
    inputs->pins = pins;
    for (uint8_t channel = 0; changed && channel < inputs->count; channel++, changed >>= 1) {
        struct sc_input *in = &inputs->input[channel];
        if (!(changed & 1)) continue;
        advance(inputs, channel, at);
        in->flags ^= ACTIVE;
        if (in->flags & ACTIVE) rises(in, at);
        else if (in->flags & COUNTS) in->pulse = add(0, at - in->rose);
        in->since = at;
    }
}

void sc_inputs_settle(struct sc_inputs *inputs, uint32_t now) {
    now = forward(inputs, now);
    for (uint8_t channel = 0; channel < inputs->count; channel++)
        if (inputs->input[channel].flags) advance(inputs, channel, now);
}

uint32_t sc_inputs_unsettled(const struct sc_inputs *inputs, uint32_t now) {
    uint32_t most = 0;
    for (uint8_t channel = 0; channel < inputs->count; channel++) {
        const struct sc_input *in = &inputs->input[channel];
        uint32_t back = 0;
        if (in->flags & LIVE) back = now - in->last;
        else if (in->flags & CANDIDATE) back = now - in->first;
        else if (in->flags & BURST) back = now - in->begin;
        if ((int32_t)back > 0 && back > most) most = back;
    }
    return most;
}
