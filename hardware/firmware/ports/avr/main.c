#include <avr/eeprom.h>
#include <avr/fuse.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "board.h"
#include "pins.h"
#include "stamps.h"
#include "uart.h"

/* Crystal with the longest start-up; no boot loader; watchdog always on; brown-out at 4.3 V; serial number kept over
 * an erase. The build asserts these bytes. */
FUSES = {
    .low = 0xFF,
    .high = FUSE_SPIEN & FUSE_WDTON & FUSE_EESAVE & FUSE_BOOTSZ0 & FUSE_BOOTSZ1,
    .extended = FUSE_BODLEVEL0 & FUSE_BODLEVEL1,
};

static const struct pin RELAY[RELAYS] = {RELAY_PINS};
static const struct pin MASTER = MASTER_PIN, LIGHT = LIGHT_PIN;
static uint16_t driven;
static bool master_driven;

/* In this family the direction register lies just below the port's, and the pins' below that. */
static volatile uint8_t *direction(const struct pin *pin) { return pin->port - 1; }
static bool is_high(const struct pin *pin) { return *(pin->port - 2) >> pin->bit & 1; }

static void set_pin(const struct pin *pin, bool high) {
    if (high) *pin->port |= (uint8_t)(1u << pin->bit);
    else *pin->port &= (uint8_t)~(1u << pin->bit);
}

static void drive(void *context, uint16_t closed, bool master) {
    (void)context;
    driven = closed;
    master_driven = master;
    for (uint8_t i = 0; i < RELAYS; i++) set_pin(&RELAY[i], closed >> i & 1);
    set_pin(&MASTER, master);
    set_pin(&LIGHT, master);
}

static void outputs_begin(void) {
    drive(0, 0, false);
    for (uint8_t i = 0; i < RELAYS; i++) *direction(&RELAY[i]) |= (uint8_t)(1u << RELAY[i].bit);
    *direction(&MASTER) |= (uint8_t)(1u << MASTER.bit);
    *direction(&LIGHT) |= (uint8_t)(1u << LIGHT.bit);
}

/* Are the outputs as they were driven? A shorted or overloaded pin is not. */
static uint8_t self_test(void *context) {
    (void)context;
    for (uint8_t i = 0; i < RELAYS; i++)
        if (is_high(&RELAY[i]) != (driven >> i & 1)) return 1;
    return is_high(&MASTER) != master_driven;
}

struct kept {
    uint32_t serial;
    uint32_t inverse;
};
static struct kept EEMEM kept;

static uint32_t serial(void *context) {
    struct kept read;
    (void)context;
    eeprom_read_block(&read, &kept, sizeof read);
    return read.serial == ~read.inverse ? read.serial : 0;
}

static void keep_serial(void *context, uint32_t number) {
    struct kept wanted = {number, ~number};
    (void)context;
    eeprom_update_block(&wanted, &kept, sizeof wanted);
}

#if defined(__AVR_ATmega2560__)
/* Of the 5 V supply: dividers fed from it cancel its error. A conversion takes 0.1 ms. */
static uint16_t millivolts(void *context, uint8_t analog) {
    (void)context;
    ADMUX = (uint8_t)(_BV(REFS0) | analog);
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
    while (ADCSRA & _BV(ADSC)) continue;
    return (uint16_t)(ADC * 5000ul / 1024);
}
#define MILLIVOLTS millivolts
#else
#define MILLIVOLTS 0
#endif

static volatile bool ticked;
ISR(TIMER0_COMPA_vect) { ticked = true; }

/* Every 4 ms. */
static void tick_begin(void) {
    TCCR0A = _BV(WGM01);
    TCCR0B = _BV(CS02);
    OCR0A = F_CPU / 256 / 250 - 1;
    TIMSK0 = _BV(OCIE0A);
}

/* The watchdog is fed only here: after a whole turn, once the tick has come and the clock has moved. */
static void feed(const struct sc_board *board) {
    static uint32_t fed;
    if (!ticked || (uint32_t)board->now == fed) return;
    ticked = false;
    fed = (uint32_t)board->now;
    wdt_reset();
}

/* Until there is something to do; a few edges, or bytes without a line's end, wait for the tick. */
static void rest(void) {
    cli();
    while (!ticked && !uart_pressing() && !stamps_pressing()) {
        sleep_enable();
        sei();
        sleep_cpu();
        sleep_disable();
        cli();
    }
    sei();
}

static enum sc_cause cause_of_reset(void) {
    uint8_t flags = MCUSR;
    MCUSR = 0;
    if (flags & _BV(PORF)) return SC_POWER; /* rising supply sets the brown-out flag too */
    if (flags & _BV(WDRF)) return SC_WATCHDOG;
    if (flags & _BV(BORF)) return SC_BROWNOUT;
    return SC_EXTERNAL;
}

int main(void) {
    static struct sc_board board;
    static struct sc_port port = {
        .model = MODEL,
        .relays = RELAYS,
        .inputs = INPUTS,
        .analogs = ANALOGS,
        .now = stamps_now,
        .drive = drive,
        .receive = uart_receive,
        .send = uart_send,
        .sample = stamps_sample,
        .millivolts = MILLIVOLTS,
        .self_test = self_test,
        .serial = serial,
        .keep_serial = keep_serial,
    };
    outputs_begin();
    port.cause = cause_of_reset();
    wdt_enable(WDTO_120MS);
    stamps_begin();
    uart_begin();
    tick_begin();
    set_sleep_mode(SLEEP_MODE_IDLE);
    sei();
    sc_begin(&board, &port);
    for (;;) {
        sc_turn(&board);
        feed(&board);
        rest();
    }
}
