/* A machine for the unmodified firmware: libsimavr gives the processor, this gives wire, pins and time.
 *
 * Everything happens in the firmware's own cycles; the caller says how far to run. Pitfalls of libsimavr 1.6 met here:
 * its reset drops all cycle timers and zeroes the ports without notice; its sleep would really sleep; a byte always
 * takes 11 bits and its receive queue drops beyond 64; time stands at the end of the last instruction, not at "when";
 * pins of port K raise no pin-change interrupt, so that one is supplied here. The library is under the GPL: this file is
 * built for the tests only, and nothing that is handed out is linked with it.
 */
#include <math.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <avr_adc.h>
#include <avr_extint.h>
#include <avr_ioport.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_elf.h>
#include <sim_io.h>

enum { INPUTS = 16, OUTPUTS = 24, MOVES_TOGETHER = 4800 /* cycles in which all outputs of one command move */ };
enum { TCCR0B_ADDRESS = 0x45, TCCR1B_ADDRESS = 0x81, MCUSR_ADDRESS = 0x54, PCIFR_ADDRESS = 0x3B, PCICR_ADDRESS = 0x68, PCMSK2_ADDRESS = 0x6D };
static const uint64_t NEVER = UINT64_MAX;

struct change {
    uint64_t cycle;
    uint8_t which;
    uint8_t level;
};

struct changes {
    struct change *row;
    uint32_t count, room;
};

struct input {
    bool used, closed, conducts, low, noisy, pending;
    avr_irq_t *pin;
    bool port_k;
    uint8_t bit;
    double period, phase, dead; /* cycles; dead: from a zero crossing to the threshold */
    uint64_t on_delay, off_delay, pending_at, noise_end, next;
    struct changes plan;  /* switching and noise to come: level 0 opens, 1 closes, 2 starts noise, 3 ends it */
    uint32_t planned;
};

struct output {
    struct bench *bench;
    avr_irq_t *pin;
    uint8_t which, level;
};

struct bench {
    avr_t *avr;
    elf_firmware_t firmware;
    struct input input[INPUTS];
    struct output output[OUTPUTS];
    avr_int_vector_t port_k;
    uint8_t outputs;
    struct changes outputs_log, pins_log, received;
    uint8_t *wire; /* bytes on their way to the board */
    uint32_t wire_count, wire_sent, wire_room;
    uint64_t wire_next, wire_last, byte_cycles, epoch;
    uint64_t news; /* when an output has moved or a line from the board is complete; bench_step ends there */
    bool was_reset, log_pins, damage;
    uint32_t resets;
    void (*core_reset)(avr_t *avr);
};

static void keep(struct changes *list, uint64_t cycle, uint8_t which, uint8_t level) {
    if (list->count == list->room) {
        list->room = list->room ? list->room * 2 : 64;
        list->row = realloc(list->row, list->room * sizeof *list->row);
        if (!list->row) abort();
    }
    list->row[list->count++] = (struct change){cycle, which, level};
}

/* ---- inputs: mains, switch, noise, opto-coupler ---- */

static bool above_threshold(const struct input *in, uint64_t now, uint64_t *next) {
    double half = in->period / 2, at = fmod((double)now + in->phase, half), rise = in->dead, fall = half - in->dead, wait;
    bool above = at >= rise && at < fall;
    if (at < rise) wait = rise - at;
    else if (at < fall) wait = fall - at;
    else wait = half - at + rise;
    *next = now + (uint64_t)wait + 1;
    return above;
}

static void set_pin(struct bench *bench, uint8_t which, bool low) {
    struct input *in = &bench->input[which];
    if (low == in->low) return;
    in->low = low;
    if (bench->log_pins) keep(&bench->pins_log, bench->avr->cycle, which, low);
    avr_raise_irq(in->pin, !low);
    if (in->port_k && bench->avr->data[PCMSK2_ADDRESS] >> in->bit & 1) avr_raise_interrupt(bench->avr, &bench->port_k);
}

static void advance_input(struct bench *bench, uint8_t which, uint64_t now) {
    struct input *in = &bench->input[which];
    uint64_t crossing = NEVER;
    bool conducts;
    while (in->planned < in->plan.count && in->plan.row[in->planned].cycle <= now) {
        uint8_t what = in->plan.row[in->planned++].level;
        if (what < 2) in->closed = what;
        else in->noisy = what == 2;
    }
    conducts = in->closed && above_threshold(in, now, &crossing);
    conducts = conducts || in->noisy;
    if (conducts != in->conducts) {
        in->conducts = conducts;
        in->pending = conducts != in->low;
        in->pending_at = now + (conducts ? in->on_delay : in->off_delay);
    }
    if (in->pending && in->pending_at <= now) {
        in->pending = false;
        set_pin(bench, which, conducts);
    }
    in->next = crossing;
    if (in->pending && in->pending_at < in->next) in->next = in->pending_at;
    if (in->planned < in->plan.count && in->plan.row[in->planned].cycle < in->next)
        in->next = in->plan.row[in->planned].cycle;
}

static avr_cycle_count_t inputs_due(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct bench *bench = param;
    uint64_t next = NEVER;
    (void)when;
    for (uint8_t i = 0; i < INPUTS; i++) {
        if (!bench->input[i].used) continue;
        if (bench->input[i].next <= avr->cycle) advance_input(bench, i, avr->cycle);
        if (bench->input[i].next < next) next = bench->input[i].next;
    }
    return next == NEVER ? 0 : next;
}

static void start_inputs(struct bench *bench) {
    avr_cycle_count_t next;
    avr_cycle_timer_cancel(bench->avr, inputs_due, bench);
    next = inputs_due(bench->avr, bench->avr->cycle, bench);
    if (next) avr_cycle_timer_register(bench->avr, next - bench->avr->cycle, inputs_due, bench);
}

void bench_input(struct bench *bench, uint8_t which, char port, uint8_t bit) {
    struct input *in = &bench->input[which];
    in->pin = avr_io_getirq(bench->avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit);
    in->used = true;
    in->port_k = port == 'K';
    in->bit = bit;
    in->next = 0;
    in->period = bench->avr->frequency / 60.0;
    avr_raise_irq(in->pin, 1);
}

/* The source behind the input's switch. frequency in Hz, phase in periods, volts as peak values, delays in seconds. */
void bench_mains(struct bench *bench, uint8_t which, double frequency, double phase, double peak, double threshold,
                 double on_delay, double off_delay) {
    struct input *in = &bench->input[which];
    double cycles = bench->avr->frequency;
    in->period = cycles / frequency;
    in->phase = phase * in->period;
    in->dead = threshold >= peak ? in->period : asin(threshold / peak) / (2 * M_PI) * in->period;
    in->on_delay = (uint64_t)(on_delay * cycles);
    in->off_delay = (uint64_t)(off_delay * cycles);
    in->next = 0;
}

/* In order of time for each input. what: 0 open, 1 close, 2 noise begins, 3 noise ends. */
void bench_plan(struct bench *bench, uint8_t which, uint64_t cycle, uint8_t what) {
    struct input *in = &bench->input[which];
    keep(&in->plan, cycle, which, what);
    in->next = 0;
}

/* ---- the wire ---- */

static avr_cycle_count_t byte_due(avr_t *avr, avr_cycle_count_t when, void *param) {
    struct bench *bench = param;
    uint32_t byte = bench->wire[bench->wire_sent++] | (bench->damage ? UART_INPUT_FE : 0u);
    (void)when;
    bench->damage = false;
    avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), byte);
    bench->wire_last = avr->cycle;
    bench->wire_next = avr->cycle + bench->byte_cycles;
    return bench->wire_sent < bench->wire_count ? bench->wire_next : 0;
}

static void start_wire(struct bench *bench) {
    uint64_t now = bench->avr->cycle;
    avr_cycle_timer_cancel(bench->avr, byte_due, bench);
    if (bench->wire_next < now + bench->byte_cycles) bench->wire_next = now + bench->byte_cycles;
    if (bench->wire_sent < bench->wire_count)
        avr_cycle_timer_register(bench->avr, bench->wire_next - now, byte_due, bench);
}

/* Bytes follow each other without a pause from now on, each given to the board when its last bit has come. */
void bench_send(struct bench *bench, const uint8_t *bytes, uint32_t count) {
    bool idle = bench->wire_sent == bench->wire_count;
    if (idle) bench->wire_sent = bench->wire_count = 0;
    if (bench->wire_count + count > bench->wire_room) {
        bench->wire_room = (bench->wire_count + count) * 2;
        bench->wire = realloc(bench->wire, bench->wire_room);
        if (!bench->wire) abort();
    }
    memcpy(bench->wire + bench->wire_count, bytes, count);
    bench->wire_count += count;
    if (idle) start_wire(bench);
}

/* The next byte comes without its stop bit. */
void bench_damage(struct bench *bench) { bench->damage = true; }

/* When the last byte given to bench_send has been, or will be, complete. */
uint64_t bench_wire_done(const struct bench *bench) {
    uint64_t left = bench->wire_count - bench->wire_sent;
    return left ? bench->wire_next + (left - 1) * bench->byte_cycles : bench->wire_last;
}

static void news_at(struct bench *bench, uint64_t cycle) {
    if (cycle < bench->news) bench->news = cycle;
}

static void byte_from_board(avr_irq_t *irq, uint32_t value, void *param) {
    struct bench *bench = param;
    (void)irq;
    keep(&bench->received, bench->avr->cycle + bench->byte_cycles, 0, (uint8_t)value);
    if (value == '\n') news_at(bench, bench->avr->cycle + bench->byte_cycles);
}

/* ---- outputs ---- */

static void output_moved(avr_irq_t *irq, uint32_t value, void *param) {
    struct output *output = param;
    (void)irq;
    if (output->level == (value & 1)) return;
    output->level = value & 1;
    keep(&output->bench->outputs_log, output->bench->avr->cycle, output->which, output->level);
    news_at(output->bench, output->bench->avr->cycle + MOVES_TOGETHER);
}

void bench_output(struct bench *bench, uint8_t which, char port, uint8_t bit) {
    bench->output[which].bench = bench;
    bench->output[which].which = which;
    bench->output[which].pin = avr_io_getirq(bench->avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit);
    avr_irq_register_notify(bench->output[which].pin, output_moved, &bench->output[which]);
    if (which >= bench->outputs) bench->outputs = which + 1;
}

/* ---- the machine ---- */

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles) {
    (void)avr;
    (void)cycles;
}

static void quiet(avr_t *avr, const int level, const char *format, va_list list) {
    (void)avr;
    (void)level;
    (void)format;
    (void)list;
}

static void timer_started(avr_irq_t *irq, uint32_t value, void *param) {
    struct bench *bench = param;
    (void)irq;
    if (value) bench->epoch = bench->avr->cycle;
}

/* Outputs float from here on and their pull-downs open every relay. */
static void on_reset(avr_t *avr) {
    struct bench *bench = avr->custom.data;
    bench->was_reset = true;
    bench->resets++;
    for (uint8_t i = 0; i < bench->outputs; i++) {
        if (!bench->output[i].level) continue;
        bench->output[i].level = 0;
        keep(&bench->outputs_log, avr->cycle, i, 0);
        news_at(bench, avr->cycle);
    }
    if (bench->core_reset) bench->core_reset(avr);
}

static void after_reset(struct bench *bench) {
    uint32_t flags = 0;
    bench->was_reset = false;
    avr_ioctl(bench->avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    for (uint8_t i = 0; i < 8; i++) avr_extint_set_strict_lvl_trig(bench->avr, i, 0);
    for (uint8_t i = 0; i < INPUTS; i++)
        if (bench->input[i].used) { /* twice: a level that seems unchanged would not be passed on */
            avr_raise_irq(bench->input[i].pin, bench->input[i].low);
            avr_raise_irq(bench->input[i].pin, !bench->input[i].low);
        }
    start_inputs(bench);
    start_wire(bench);
}

/* Null where the part or the file is unknown. */
struct bench *bench_new(const char *elf, const char *part, uint32_t baud) {
    struct bench *bench = calloc(1, sizeof *bench);
    if (!bench) return 0;
    avr_global_logger_set(quiet);
    bench->avr = avr_make_mcu_by_name(part);
    if (!bench->avr || elf_read_firmware(elf, &bench->firmware)) return 0;
    avr_init(bench->avr);
    bench->firmware.frequency = 16000000;
    bench->firmware.vcc = bench->firmware.avcc = bench->firmware.aref = 5000;
    avr_load_firmware(bench->avr, &bench->firmware);
    bench->avr->frequency = 16000000;
    bench->avr->vcc = bench->avr->avcc = bench->avr->aref = 5000;
    bench->avr->sleep = no_sleep;
    bench->avr->run_cycle_limit = 16000000;
    bench->avr->custom.data = bench;
    bench->core_reset = bench->avr->reset;
    bench->avr->reset = on_reset;
    bench->byte_cycles = 11 * 16000000ull / baud;
    bench->news = NEVER;
    avr_irq_register_notify(avr_io_getirq(bench->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), byte_from_board,
                            bench);
    avr_irq_register_notify(avr_iomem_getirq(bench->avr, TCCR1B_ADDRESS, "timer", 1), timer_started, bench);
    bench->port_k = (avr_int_vector_t){.vector = 11, .enable = AVR_IO_REGBIT(PCICR_ADDRESS, 2),
                                       .raised = AVR_IO_REGBIT(PCIFR_ADDRESS, 2)};
    if (!strcmp(part, "atmega2560")) avr_register_vector(bench->avr, &bench->port_k);
    after_reset(bench);
    return bench;
}

/* A reset from outside, with the flags the real part would show (1 power, 2 pin, 4 brown-out, 8 watchdog). */
void bench_reset(struct bench *bench, uint8_t flags) {
    avr_reset(bench->avr);
    bench->avr->data[MCUSR_ADDRESS] = flags;
    after_reset(bench);
}

static bool turn(struct bench *bench) {
    int state = avr_run(bench->avr);
    if (bench->was_reset) after_reset(bench);
    return state != cpu_Done && state != cpu_Crashed;
}

/* Runs to the given cycle or a few beyond. False where the processor has stopped for good. */
bool bench_run(struct bench *bench, uint64_t until) {
    start_inputs(bench);
    while (bench->avr->cycle < until)
        if (!turn(bench)) return false;
    return true;
}

/* The same, but ends earlier where an output has moved or a line from the board is complete. */
bool bench_step(struct bench *bench, uint64_t until) {
    start_inputs(bench);
    while (bench->avr->cycle < until && bench->avr->cycle < bench->news)
        if (!turn(bench)) return false;
    if (bench->avr->cycle >= bench->news) bench->news = NEVER;
    return true;
}

uint64_t bench_cycle(const struct bench *bench) { return bench->avr->cycle; }
uint64_t bench_epoch(const struct bench *bench) { return bench->epoch; }
uint32_t bench_resets(const struct bench *bench) { return bench->resets; }
uint8_t bench_level(const struct bench *bench, uint8_t which) { return bench->output[which].level; }
void bench_log_pins(struct bench *bench, bool on) { bench->log_pins = on; }

/* Lists: 0 bytes from the board, 1 outputs, 2 input pins. The rows stay valid until the next call of any function. */
uint32_t bench_list(struct bench *bench, uint8_t list, const struct change **rows) {
    struct changes *from = list == 0 ? &bench->received : list == 1 ? &bench->outputs_log : &bench->pins_log;
    uint32_t count = from->count;
    *rows = from->row;
    from->count = 0;
    return count;
}

void bench_analog(struct bench *bench, uint8_t channel, uint32_t millivolts) {
    avr_raise_irq(avr_io_getirq(bench->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + channel), millivolts);
}

/* Byte address of a symbol in flash, or -1. */
int64_t bench_symbol(const struct bench *bench, const char *name) {
    for (uint32_t i = 0; i < bench->firmware.symbolcount; i++)
        if (!strcmp(bench->firmware.symbol[i]->symbol, name)) return bench->firmware.symbol[i]->addr;
    return -1;
}

/* A fault in the machine: these words are found in flash from now on. */
void bench_spoil_flash(struct bench *bench, uint32_t address, const uint8_t *bytes, uint32_t count) {
    memcpy(bench->avr->flash + address, bytes, count);
}

/* A fault in the machine: timer 0 or 1 stands still. */
void bench_stop_timer(struct bench *bench, uint8_t timer) {
    avr_io_addr_t address = timer ? TCCR1B_ADDRESS : TCCR0B_ADDRESS;
    bench->avr->io[AVR_DATA_TO_IO(address)].w.c(bench->avr, address, 0, bench->avr->io[AVR_DATA_TO_IO(address)].w.param);
}

/* Fills unused RAM with a pattern, and later tells how deep the stack has reached. */
enum { PAINT = 0xC5 };
void bench_paint(struct bench *bench, uint16_t from) {
    uint16_t stack = (uint16_t)(bench->avr->data[R_SPL] | bench->avr->data[R_SPH] << 8);
    for (uint16_t at = from; at + 1 < stack; at++) bench->avr->data[at] = PAINT;
}
uint16_t bench_deepest(const struct bench *bench, uint16_t from) {
    uint16_t at = from;
    while (at < bench->avr->ramend && bench->avr->data[at] == PAINT) at++;
    return (uint16_t)(bench->avr->ramend - at + 1);
}

void bench_free(struct bench *bench) {
    avr_terminate(bench->avr);
    for (uint8_t i = 0; i < INPUTS; i++) free(bench->input[i].plan.row);
    free(bench->outputs_log.row);
    free(bench->pins_log.row);
    free(bench->received.row);
    free(bench->wire);
    free(bench);
}
