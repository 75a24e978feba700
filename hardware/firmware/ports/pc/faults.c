#include "faults.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *name;
    size_t field;
    double least, most;
} NAMES[] = {
    {"drop-bytes", offsetof(struct faults, drop_bytes), 0, 1},
    {"flip-bits", offsetof(struct faults, flip_bits), 0, 1},
    {"lost-events", offsetof(struct faults, lost_events), 0, 1},
    {"slow", offsetof(struct faults, slow), 0, 60000},
    {"silent", offsetof(struct faults, silent), 0, 1e9},
    {"deaf", offsetof(struct faults, deaf), 0, 1e9},
    {"hang", offsetof(struct faults, hang), 0, 1e9},
    {"reset", offsetof(struct faults, reset), 0, 1e9},
    {"unplug", offsetof(struct faults, unplug), 0, 1e9},
    {"stuck-relay", offsetof(struct faults, stuck_relay), 1, 16},
    {"open-relay", offsetof(struct faults, open_relay), 1, 16},
    {"dead-input", offsetof(struct faults, dead_input), 1, 16},
    {"noisy-input", offsetof(struct faults, noisy_input), 1, 16},
};

bool faults_set(struct faults *faults, const char *text) {
    const char *equals = strchr(text, '=');
    for (size_t i = 0; equals && i < sizeof NAMES / sizeof *NAMES; i++) {
        char *end;
        double value = strtod(equals + 1, &end);
        if (strlen(NAMES[i].name) != (size_t)(equals - text) || strncmp(NAMES[i].name, text, (size_t)(equals - text)))
            continue;
        if (end == equals + 1 || *end || value < NAMES[i].least || value > NAMES[i].most) return false;
        memcpy((char *)faults + NAMES[i].field, &value, sizeof value);
        return true;
    }
    return false;
}

double faults_chance(uint64_t *state) {
    uint64_t x = (*state += 0x9E3779B97F4A7C15u);
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
    return (double)((x ^ (x >> 31)) >> 11) / 9007199254740992.0;
}

bool faults_pass(const struct faults *faults, uint64_t *state, uint8_t *byte) {
    if (faults->drop_bytes > 0 && faults_chance(state) < faults->drop_bytes) return false;
    if (faults->flip_bits > 0 && faults_chance(state) < faults->flip_bits)
        *byte ^= (uint8_t)(1u << (int)(8 * faults_chance(state)));
    return true;
}
