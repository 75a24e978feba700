/* Named things that go wrong with a board or its cable, for trying a host program. */
#ifndef SC_FAULTS_H
#define SC_FAULTS_H

#include <stdbool.h>
#include <stdint.h>

/* Every field: what --fault NAME=VALUE sets; zero is no fault. Times are seconds since the board started. */
struct faults {
    double drop_bytes;   /* drop-bytes: chance that a byte is lost, either way; bound 0 to 1 */
    double flip_bits;    /* flip-bits: chance that a byte has one bit turned, either way; bound 0 to 1 */
    double lost_events;  /* lost-events: chance that a whole event line is lost; bound 0 to 1 */
    double slow;         /* slow: ms by which every line from the board is late; bound 0 to 60000 */
    double silent;       /* silent: from then on the board hears but says nothing */
    double deaf;         /* deaf: from then on the board hears nothing */
    double hang;         /* hang: the loop stands still; 0.13 s later the watchdog resets the board, once */
    double reset;        /* reset: the board resets as by a brown-out, once */
    double unplug;       /* unplug: the port goes away and the program ends */
    double stuck_relay;  /* stuck-relay: this relay conducts for ever once it has closed; bound 1 to 16 */
    double open_relay;   /* open-relay: this relay never conducts; bound 1 to 16 */
    double dead_input;   /* dead-input: this input never sees anything; bound 1 to 16 */
    double noisy_input;  /* noisy-input: this input sees spikes of 0.1 ms, 50 a second; bound 1 to 16 */
};

/* Reads NAME=VALUE. False where there is no such fault or the value is out of its bound. */
bool faults_set(struct faults *faults, const char *text);

/* A number in [0, 1), the same sequence for the same seed. */
double faults_chance(uint64_t *state);

/* One byte on its way. False where it is lost; else it may have been changed. */
bool faults_pass(const struct faults *faults, uint64_t *state, uint8_t *byte);

#endif
