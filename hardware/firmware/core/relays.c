#include "relays.h"

#include <string.h>

void sc_relays_begin(struct sc_relays *relays, uint8_t count, uint32_t now_ms) {
    relays->count = count;
    relays->stop = SC_STOP_NONE;
    relays->closed = 0;
    relays->master = false;
    for (uint8_t i = 0; i < SC_CHANNELS; i++) relays->opened[i] = now_ms;
    sc_relays_reset(relays, now_ms);
}

static uint16_t conducting(uint16_t closed, bool master) { return master ? closed : 0; }

/* Everything that moves a relay comes through here. */
static void drive(struct sc_relays *relays, uint16_t closed, bool master, uint32_t now_ms) {
    uint16_t ended = conducting(relays->closed, relays->master) & (uint16_t)~conducting(closed, master);
    relays->closed = closed;
    relays->master = master;
    relays->drive(relays->context, closed, master);
    for (uint8_t i = 0; ended; i++, ended >>= 1)
        if (ended & 1) relays->opened[i] = now_ms;
}

void sc_relays_reset(struct sc_relays *relays, uint32_t now_ms) {
    drive(relays, 0, false, now_ms);
    relays->locked = false;
    memset(relays->minimum, 0, sizeof relays->minimum);
    memset(relays->exclusive, 0, sizeof relays->exclusive);
    memset(relays->readback, 0, sizeof relays->readback);
    relays->readback_stops = relays->disagrees = relays->disagreed = 0;
    relays->watched = relays->wires = relays->seen = 0;
}

uint32_t sc_relays_rest(const struct sc_relays *relays, uint8_t relay, uint32_t now_ms) {
    uint32_t open = now_ms - relays->opened[relay];
    if (conducting(relays->closed, relays->master) >> relay & 1) return 0;
    return open >= relays->minimum[relay] ? 0 : relays->minimum[relay] - open;
}

enum sc_refusal sc_relays_set(struct sc_relays *relays, uint16_t closed, bool master, uint32_t now_ms, uint8_t *which) {
    uint16_t starts = conducting(closed, master) & (uint16_t)~conducting(relays->closed, relays->master);
    bool adds = (closed & ~relays->closed) || (master && !relays->master);
    *which = 0;
    if (adds && relays->stop != SC_STOP_NONE) return SC_STOPPED;
    if (adds && !relays->locked) return SC_UNLOCKED;
    for (uint8_t i = 0; adds && i < relays->count; i++) {
        *which = i;
        if ((closed >> i & 1) && (relays->exclusive[i] & closed)) return SC_EXCLUSIVE;
        if ((starts >> i & 1) && sc_relays_rest(relays, i, now_ms) > 0) return SC_MINIMUM;
    }
    drive(relays, closed, master, now_ms);
    return SC_ALLOWED;
}

void sc_relays_stop(struct sc_relays *relays, enum sc_stop stop, uint32_t now_ms) {
    drive(relays, 0, false, now_ms);
    if (relays->stop == SC_STOP_NONE) relays->stop = stop;
}

static void look_at_wires(struct sc_relays *relays, uint16_t live) {
    relays->seen = live;
    relays->wires = 0;
    for (uint8_t i = 0; i < relays->count; i++)
        if (relays->readback[i] && (live >> (relays->readback[i] - 1) & 1)) relays->wires |= (uint16_t)(1u << i);
}

void sc_relays_read_back(struct sc_relays *relays, uint8_t relay, uint8_t input) {
    relays->readback[relay] = input;
    relays->watched |= (uint16_t)(1u << relay);
    look_at_wires(relays, relays->seen);
}

void sc_relays_compare(struct sc_relays *relays, uint16_t live, uint32_t now_us) {
    uint16_t differ;
    uint16_t bit = 1; /* moved along: a shift by a variable is slow on the small machine */
    if (live != relays->seen) look_at_wires(relays, live);
    differ = (relays->wires ^ conducting(relays->closed, relays->master)) & relays->watched;
    if (!differ && !relays->disagrees) return;
    for (uint8_t i = 0; i < relays->count; i++, bit = (uint16_t)(bit << 1)) {
        if (!(differ & bit)) {
            relays->disagrees &= (uint16_t)~bit;
            relays->disagreed &= (uint16_t)~bit;
        } else if (!(relays->disagrees & bit)) {
            relays->disagrees |= bit;
            relays->apart[i] = now_us;
        } else if (!(relays->disagreed & bit) && now_us - relays->apart[i] >= SC_READBACK_US) {
            relays->disagreed |= bit;
            relays->apart_for_long(relays->board, i, (relays->wires & bit) != 0);
        }
    }
}
