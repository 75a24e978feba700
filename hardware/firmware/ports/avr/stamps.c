#include "stamps.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/atomic.h>

#include "pins.h"

/* Timer 1 counts half microseconds and wraps every 32.768 ms. */
static volatile uint32_t wraps;

ISR(TIMER1_OVF_vect) { wraps++; }

struct stamp {
    uint16_t half_us;
    uint8_t wrap;  /* low byte of the count of wraps: stamps are read within 4 s */
    uint8_t group;
    uint8_t pins;
};

enum { STAMPS = 64 }; /* a power of two; on 16 inputs of one phase, 32 edges come within 3 ms */
static struct stamp stamps[STAMPS];
static volatile uint8_t head, tail;
static volatile bool lost;

static void stop_watching(void) {
    PCICR = 0;
#ifdef GROUP_C_VECTOR
    EIMSK = 0;
#endif
}

static void watch(void) {
#ifdef GROUP_C_VECTOR
    EIMSK = _BV(INT4);
#endif
    PCICR = GROUP_BITS;
}

/* Within an interrupt. Where the list is full the pins are left alone until the loop has caught up, so that a storm of
 * edges cannot take the whole machine. */
#define KEEP(GROUP, PINS)                                                     \
    do {                                                                      \
        uint16_t now_ = TCNT1;                                                \
        uint8_t pins_ = (PINS);                                               \
        uint8_t next_ = (uint8_t)((head + 1) & (STAMPS - 1));                 \
        struct stamp *stamp_ = &stamps[head];                                 \
        stamp_->wrap = (uint8_t)wraps;                                        \
        if ((TIFR1 & _BV(TOV1)) && now_ < 0x8000u) stamp_->wrap++;            \
        stamp_->half_us = now_;                                               \
        stamp_->group = (GROUP);                                              \
        stamp_->pins = pins_;                                                 \
        if (next_ == tail) {                                                  \
            lost = true;                                                      \
            stop_watching();                                                  \
        } else {                                                              \
            head = next_;                                                     \
        }                                                                     \
    } while (0)

ISR(GROUP_A_VECTOR) { KEEP(0, GROUP_A_PINS); }
ISR(GROUP_B_VECTOR) { KEEP(1, GROUP_B_PINS); }
#ifdef GROUP_C_VECTOR
ISR(GROUP_C_VECTOR) { KEEP(2, GROUP_C_PINS); }
#endif

static uint8_t seen[3]; /* the pins of each group as last handed on; low where an input conducts */

static uint16_t conducting(void) {
    uint16_t idle = group_a_inputs(seen[0]) | group_b_inputs(seen[1]);
#ifdef GROUP_C_VECTOR
    idle |= group_c_inputs(seen[2]);
#endif
    return (uint16_t)~idle & (uint16_t)((1ul << INPUTS) - 1);
}

static void look_now(void) {
    seen[0] = GROUP_A_PINS;
    seen[1] = GROUP_B_PINS;
#ifdef GROUP_C_VECTOR
    seen[2] = GROUP_C_PINS;
#endif
}

/* State of the hand-over after lost edges or a start: first say so, then give the pins as they are. */
static bool afresh;

void stamps_begin(void) {
    TCCR1A = 0;
    TCCR1B = _BV(CS11);
    TIMSK1 = _BV(TOIE1);
    WATCH_GROUPS;
    afresh = true;
    watch();
}

static void read_clock(uint16_t *half_us, uint32_t *count) {
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
        *half_us = TCNT1;
        *count = wraps;
        if ((TIFR1 & _BV(TOV1)) && *half_us < 0x8000u) (*count)++;
    }
}

/* count * 32768 + half_us / 2, modulo 2^32; moves of whole bytes, since shifts are slow on this machine. */
static uint32_t us(uint32_t count, uint16_t half_us) {
    uint32_t low = (count << 16 | half_us) >> 1;
    return count & 0x10000u ? low | 0x80000000u : low;
}

uint64_t stamps_now(void *context) {
    union {
        uint32_t half[2];
        uint64_t whole;
    } now;
    uint16_t half_us;
    uint32_t count;
    (void)context;
    read_clock(&half_us, &count);
    now.half[0] = us(count, half_us);
    now.half[1] = (count >> 16) >> 1;
    return now.whole;
}

bool stamps_pressing(void) { return lost || (uint8_t)((head - tail) & (STAMPS - 1)) >= STAMPS / 2; }

enum sc_sampled stamps_sample(void *context, uint16_t *pins, uint32_t *at) {
    uint16_t half_us;
    uint32_t count;
    (void)context;
    if (afresh || (lost && head == tail)) {
        bool edges_lost = lost;
        afresh = edges_lost; /* the pins come with the next question */
        if (edges_lost) {
            lost = false;
            watch();
            return SC_SAMPLES_LOST;
        }
        ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
            look_now();
            tail = head;
            read_clock(&half_us, &count);
        }
    } else if (head != tail) {
        const struct stamp *stamp = &stamps[tail];
        ATOMIC_BLOCK(ATOMIC_RESTORESTATE) count = wraps;
        count += (uint32_t)(int32_t)(int8_t)(stamp->wrap - (uint8_t)count);
        half_us = stamp->half_us;
        seen[stamp->group] = stamp->pins;
        tail = (uint8_t)((tail + 1) & (STAMPS - 1));
    } else {
        return SC_NO_SAMPLE;
    }
    *pins = conducting();
    *at = us(count, half_us);
    return SC_SAMPLE;
}
