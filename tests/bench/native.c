/* The core built for this computer, in virtual time, as a library the tests load. */
#include <stdlib.h>
#include <string.h>

#include "board.h"
#include "world.h"

struct native {
    struct sc_board board;
    struct sc_port port;
    struct faults faults;
    struct world world;
    uint64_t now;
    const uint8_t *in;
    uint32_t in_count;
    uint8_t out[65536];
    uint32_t out_count;
    uint32_t serial;
};

static uint64_t now(void *context) { return ((struct native *)context)->now; }

static void drive(void *context, uint16_t closed, bool master) {
    struct native *native = context;
    world_drive(&native->world, closed, master, native->now);
}

static bool receive(void *context, uint8_t *byte) {
    struct native *native = context;
    if (native->in_count == 0) return false;
    *byte = *native->in++;
    native->in_count--;
    return true;
}

/* A wire of 250000 baud takes 25 bytes a millisecond; a turn is 0.25 ms. */
static uint8_t send_bytes(void *context, const char *bytes, uint8_t count) {
    struct native *native = context;
    uint8_t taken = count < 6 ? count : 6;
    if (native->out_count + taken > sizeof native->out) return 0;
    memcpy(native->out + native->out_count, bytes, taken);
    native->out_count += taken;
    return taken;
}

static enum sc_sampled sample(void *context, uint16_t *pins, uint32_t *at) {
    struct native *native = context;
    return world_sample(&native->world, pins, at, native->now);
}

static uint16_t millivolts(void *context, uint8_t analog) { return ((struct native *)context)->world.millivolts[analog]; }
static uint8_t self_test(void *context) { return context == 0; }
static uint32_t serial(void *context) { return ((struct native *)context)->serial; }
static void keep_serial(void *context, uint32_t number) { ((struct native *)context)->serial = number; }

/* start: the clock's first reading, us. */
struct native *native_new(uint64_t start) {
    struct native *native = calloc(1, sizeof *native);
    struct sc_port port = {native, "Core", 16, 16, 4, SC_POWER, now, drive, receive, send_bytes,
                           sample, millivolts, self_test, serial, keep_serial};
    if (!native) abort();
    native->port = port;
    native->world.faults = &native->faults;
    native->now = native->world.sampled = start;
    sc_begin(&native->board, &native->port);
    return native;
}

void native_free(struct native *native) { free(native); }

/* Gives the board these bytes, then lets time pass in turns of 0.25 ms. */
void native_run(struct native *native, const uint8_t *bytes, uint32_t count, uint32_t us) {
    native->in = bytes;
    native->in_count = count;
    do {
        sc_turn(&native->board);
        native->now += 250;
        us = us > 250 ? us - 250 : 0;
    } while (us > 0 || native->in_count > 0);
}

/* Lets time pass until the board sends something, at most us; gives the time that passed. */
uint32_t native_listen(struct native *native, uint32_t us) {
    uint32_t passed = 0;
    for (; passed < us && native->out_count == 0; passed += 250) {
        sc_turn(&native->board);
        native->now += 250;
    }
    return passed;
}

uint32_t native_take(struct native *native, const uint8_t **bytes) {
    uint32_t count = native->out_count;
    *bytes = native->out;
    native->out_count = 0;
    return count;
}

void native_input(struct native *native, uint8_t input, bool live) {
    uint16_t bit = (uint16_t)(1u << (input - 1));
    if (live) native->world.fed |= bit;
    else native->world.fed &= (uint16_t)~bit;
}

/* The call wire of a relay leads to an input; both count from 1, input 0 is none. */
void native_wire(struct native *native, uint8_t relay, uint8_t input) { native->world.wire[relay - 1] = input; }

void native_analog(struct native *native, uint8_t analog, uint16_t millivolts) {
    native->world.millivolts[analog - 1] = millivolts;
}

bool native_fault(struct native *native, const char *text) { return faults_set(&native->faults, text); }

/* As if its supply had gone and come back. */
void native_restart(struct native *native, uint8_t cause) {
    native->port.cause = (enum sc_cause)cause;
    native->now = native->world.sampled = 0;
    native->world.pins = 0;
    sc_begin(&native->board, &native->port);
}

uint64_t native_now(const struct native *native) { return native->now; }

/* Bit 16 is the master relay. */
uint32_t native_driven(const struct native *native) {
    return native->world.driven | (native->world.master_driven ? 1ul << 16 : 0);
}

uint16_t native_refused(const struct native *native) { return native->board.refused; }

/* 0 where the line is refused; else kind, tag and length, a byte each. */
uint32_t native_open(const char *line, uint8_t count) {
    struct sc_frame frame;
    if (!sc_frame_open(line, count, &frame)) return 0;
    return (uint32_t)(uint8_t)frame.kind << 16 | (uint32_t)frame.tag << 8 | frame.length;
}

uint16_t native_crc(const char *bytes, uint32_t count) {
    uint16_t crc = SC_CRC_START;
    while (count-- > 0) crc = sc_crc(crc, (uint8_t)*bytes++);
    return crc;
}
