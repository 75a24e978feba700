#include "world.h"

enum { STEP_US = 100, HALF_WAVE_US = 8333, DEAD_US = 800, SPIKE_EVERY_US = 20000 };

static uint16_t bit_of(double channel) { return channel > 0 ? (uint16_t)(1u << ((int)channel - 1)) : 0; }

void world_drive(struct world *world, uint16_t closed, bool master, uint64_t now) {
    if (closed == world->driven && master == world->master_driven) return;
    world->driven = closed;
    world->master_driven = master;
    world->follow_at = now + OPERATE_US;
}

static void follow(struct world *world) {
    world->follow_at = 0;
    world->master = world->master_driven;
    world->closed = (uint16_t)((world->driven | world->welded) & ~bit_of(world->faults->open_relay));
    world->welded |= world->closed & bit_of(world->faults->stuck_relay);
}

static uint16_t pins_at(const struct world *world, uint64_t at) {
    uint16_t live = world->fed, pins = 0;
    uint64_t phase = at % HALF_WAVE_US;
    for (int i = 0; i < 16; i++)
        if (world->wire[i] && world->master && (world->closed >> i & 1)) live |= (uint16_t)(1u << (world->wire[i] - 1));
    if (phase >= DEAD_US && phase < HALF_WAVE_US - DEAD_US) pins = live;
    if (at % SPIKE_EVERY_US < STEP_US) pins |= bit_of(world->faults->noisy_input);
    return pins & (uint16_t)~bit_of(world->faults->dead_input);
}

enum sc_sampled world_sample(struct world *world, uint16_t *pins, uint32_t *at, uint64_t now) {
    if (now - world->sampled > 1000000) { /* this program was not run for a while */
        world->sampled = now;
        return SC_SAMPLES_LOST;
    }
    while (world->sampled + STEP_US <= now) {
        world->sampled += STEP_US;
        if (world->follow_at && world->sampled >= world->follow_at) follow(world);
        *pins = pins_at(world, world->sampled);
        if (*pins == world->pins) continue;
        world->pins = *pins;
        *at = (uint32_t)world->sampled;
        return SC_SAMPLE;
    }
    return SC_NO_SAMPLE;
}
