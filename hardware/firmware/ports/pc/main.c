/* A board on this computer, behind a pseudo-terminal whose name it prints.
 *
 *     board-pc [--fault NAME=VALUE]... [--wire RELAY:INPUT]... [--live INPUT]... [--serial N] [--seed N]
 *
 * Lines on standard input change the world while it runs: live INPUT, dead INPUT, fault NAME=VALUE, volts ANALOG MV.
 * It ends when standard input does. It keeps no real time: a late computer makes a late board. */
#define _XOPEN_SOURCE 700

#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "board.h"
#include "faults.h"
#include "world.h"

enum { WATCHDOG_US = 130000, QUEUE = 4096 };

struct pc {
    struct sc_board board;
    struct sc_port port;
    struct faults faults;
    struct world world;
    int terminal;
    uint64_t started;             /* us of this computer's clock */
    uint64_t random;
    uint32_t serial;
    bool line_lost;               /* the line being sent is an event that gets lost */
    bool line_begins;
    bool hung;
    uint64_t hung_at;
    struct {
        uint64_t due;
        uint8_t byte;
    } queue[QUEUE];               /* bytes on their way to the host */
    unsigned first, waiting;
};

static uint64_t clock_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u;
}

static uint64_t now(void *context) { return clock_us() - ((struct pc *)context)->started; }

static bool past(struct pc *pc, double seconds) { return seconds > 0 && (double)now(pc) >= seconds * 1e6; }

static void drive(void *context, uint16_t closed, bool master) {
    struct pc *pc = context;
    world_drive(&pc->world, closed, master, now(pc));
}

static bool receive(void *context, uint8_t *byte) {
    struct pc *pc = context;
    while (read(pc->terminal, byte, 1) == 1)
        if (!past(pc, pc->faults.deaf) && faults_pass(&pc->faults, &pc->random, byte)) return true;
    return false;
}

static uint8_t send_bytes(void *context, const char *bytes, uint8_t count) {
    struct pc *pc = context;
    uint8_t taken = 0;
    for (; taken < count && pc->waiting < QUEUE; taken++) {
        uint8_t byte = (uint8_t)bytes[taken];
        if (pc->line_begins) pc->line_lost = byte == '!' && faults_chance(&pc->random) < pc->faults.lost_events;
        pc->line_begins = byte == '\n';
        if (pc->line_lost || past(pc, pc->faults.silent) || !faults_pass(&pc->faults, &pc->random, &byte)) continue;
        pc->queue[(pc->first + pc->waiting) % QUEUE].byte = byte;
        pc->queue[(pc->first + pc->waiting) % QUEUE].due = now(pc) + (uint64_t)(pc->faults.slow * 1000);
        pc->waiting++;
    }
    return taken;
}

static void deliver(struct pc *pc) {
    while (pc->waiting > 0 && pc->queue[pc->first].due <= now(pc)) {
        if (write(pc->terminal, &pc->queue[pc->first].byte, 1) != 1) return;
        pc->first = (pc->first + 1) % QUEUE;
        pc->waiting--;
    }
}

static enum sc_sampled sample(void *context, uint16_t *pins, uint32_t *at) {
    struct pc *pc = context;
    return world_sample(&pc->world, pins, at, now(pc));
}

static uint16_t millivolts(void *context, uint8_t analog) { return ((struct pc *)context)->world.millivolts[analog]; }

static uint8_t self_test(void *context) {
    (void)context;
    return 0;
}

static uint32_t serial(void *context) { return ((struct pc *)context)->serial; }
static void keep_serial(void *context, uint32_t number) { ((struct pc *)context)->serial = number; }

static void start(struct pc *pc, enum sc_cause cause) {
    struct sc_port port = {pc, "Relay and sense on PC", 16, 16, 4, cause, now, drive, receive, send_bytes,
                           sample, millivolts, self_test, serial, keep_serial};
    pc->started = clock_us();
    pc->port = port;
    pc->world.sampled = 0;
    pc->world.pins = 0;
    pc->world.follow_at = OPERATE_US;
    pc->world.driven = 0;
    pc->world.master_driven = false;
    sc_begin(&pc->board, &pc->port);
}

static void turn(struct pc *pc) {
    if (past(pc, pc->faults.unplug)) exit(0);
    if (past(pc, pc->faults.reset)) {
        pc->faults.reset = 0;
        start(pc, SC_BROWNOUT);
    }
    if (past(pc, pc->faults.hang)) {
        pc->faults.hang = 0;
        pc->hung = true;
        pc->hung_at = now(pc);
    }
    if (pc->hung && now(pc) - pc->hung_at > WATCHDOG_US) {
        pc->hung = false;
        start(pc, SC_WATCHDOG);
    }
    if (!pc->hung) sc_turn(&pc->board);
    deliver(pc);
}

static void obey(struct pc *pc, const char *line) {
    unsigned channel, value;
    char fault[64];
    if (sscanf(line, "live %u", &channel) == 1 && channel >= 1 && channel <= 16)
        pc->world.fed |= (uint16_t)(1u << (channel - 1));
    else if (sscanf(line, "dead %u", &channel) == 1 && channel >= 1 && channel <= 16)
        pc->world.fed &= (uint16_t)~(1u << (channel - 1));
    else if (sscanf(line, "volts %u %u", &channel, &value) == 2 && channel >= 1 && channel <= 4)
        pc->world.millivolts[channel - 1] = (uint16_t)value;
    else if (sscanf(line, "fault %63s", fault) != 1 || !faults_set(&pc->faults, fault))
        fprintf(stderr, "not understood: %s\n", line);
}

static bool option(struct pc *pc, const char *name, const char *value) {
    unsigned relay, input;
    if (!strcmp(name, "--fault")) return faults_set(&pc->faults, value);
    if (!strcmp(name, "--seed")) return pc->random = strtoull(value, 0, 10), true;
    if (!strcmp(name, "--serial")) return pc->serial = (uint32_t)strtoul(value, 0, 10), true;
    if (!strcmp(name, "--live") && sscanf(value, "%u", &input) == 1 && input >= 1 && input <= 16)
        return pc->world.fed |= (uint16_t)(1u << (input - 1)), true;
    if (!strcmp(name, "--wire") && sscanf(value, "%u:%u", &relay, &input) == 2 && relay >= 1 && relay <= 16 &&
        input >= 1 && input <= 16)
        return pc->world.wire[relay - 1] = (uint8_t)input, true;
    return false;
}

/* Both ends are kept open, so that a host may come and go. */
static int open_terminal(void) {
    struct termios raw;
    int host, board = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (board < 0 || grantpt(board) || unlockpt(board)) return -1;
    host = open(ptsname(board), O_RDWR | O_NOCTTY);
    if (host < 0 || tcgetattr(host, &raw)) return -1;
    raw.c_iflag = raw.c_oflag = raw.c_lflag = 0;
    raw.c_cflag |= CS8 | CREAD;
    if (tcsetattr(host, TCSANOW, &raw)) return -1;
    return board;
}

int main(int count, char **arguments) {
    static struct pc pc;
    static char line[256];
    pc.world.faults = &pc.faults;
    pc.line_begins = true;
    for (int i = 1; i < count; i += 2) {
        if (i + 1 < count && option(&pc, arguments[i], arguments[i + 1])) continue;
        fprintf(stderr, "board-pc: not understood: %s\n", arguments[i]);
        return 2;
    }
    pc.terminal = open_terminal();
    if (pc.terminal < 0) return perror("board-pc"), 1;
    printf("%s\n", ptsname(pc.terminal));
    fflush(stdout);
    start(&pc, SC_POWER);
    for (size_t used = 0;;) {
        struct pollfd waits[2] = {{pc.terminal, POLLIN, 0}, {STDIN_FILENO, POLLIN, 0}};
        poll(waits, 2, 1);
        if (waits[1].revents) {
            char c;
            if (read(STDIN_FILENO, &c, 1) != 1) return 0;
            if (c != '\n' && used < sizeof line - 1) {
                line[used++] = c;
            } else {
                line[used] = 0;
                used = 0;
                obey(&pc, line);
            }
        }
        turn(&pc);
    }
}
