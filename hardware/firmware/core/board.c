#include "board.h"

#include "text.h"

enum kind { BOOT, INPUT, STOP, READBACK, LOST };

static const char KINDS[5][5] SC_FLASH = {"BOOT", "INP", "STOP", "READ", "LOST"};
static const char STOPS[6][9] SC_FLASH = {"NONE", "COMMAND", "SILENT", "READBACK", "WATCHDOG", "BROWNOUT"};

void sc_put_stop(struct sc_text *text, enum sc_stop stop) { sc_put_flash(text, STOPS[stop]); }

static void event(struct sc_board *board, enum kind kind, uint8_t what, uint8_t state, uint64_t at) {
    struct sc_event *event;
    uint32_t number = board->next_event++;
    if (board->events_waiting == SC_EVENTS) return; /* the gap in the numbers tells */
    event = &board->events[(board->events_first + board->events_waiting++) % SC_EVENTS];
    event->number = number;
    event->at = at;
    event->kind = (uint8_t)kind;
    event->what = what;
    event->state = state;
}

static void input_changed(void *context, uint8_t channel, bool live, uint32_t at) {
    struct sc_board *board = context;
    uint32_t ago = (uint32_t)board->now - at; /* a sample may be newer than this turn's reading of the clock */
    event(board, INPUT, (uint8_t)(channel + 1), live, board->now - (uint64_t)(int64_t)(int32_t)ago);
}

void sc_stop(struct sc_board *board, enum sc_stop stop) {
    bool news = board->relays.stop == SC_STOP_NONE;
    sc_relays_stop(&board->relays, stop, board->ms);
    if (news) event(board, STOP, (uint8_t)stop, 0, board->port->now(board->port->context));
}

static void wire_apart(void *context, uint8_t relay, bool live) {
    struct sc_board *board = context;
    event(board, READBACK, (uint8_t)(relay + 1), live, board->now);
    sc_status_error(&board->status, SC_HARDWARE);
    if (live && (board->relays.readback_stops >> relay & 1)) sc_stop(board, SC_STOP_READBACK);
}

void sc_begin(struct sc_board *board, const struct sc_port *port) {
    board->port = port;
    board->now = port->now(port->context);
    board->settled = board->heard = board->ms_at = (uint32_t)board->now;
    board->ms = 0;
    board->line_used = board->owed = 0;
    board->waiting = board->answered = false;
    board->refused = 0;
    board->reply_length = board->reply_sent = board->out_length = board->out_sent = 0;
    board->events_first = board->events_waiting = 0;
    board->next_event = 0;
    board->relays.drive = port->drive;
    board->relays.context = port->context;
    board->relays.apart_for_long = wire_apart;
    board->relays.board = board;
    board->inputs.changed = input_changed;
    board->inputs.context = board;
    sc_relays_begin(&board->relays, port->relays, board->ms);
    sc_inputs_begin(&board->inputs, port->inputs, (uint32_t)board->now);
    sc_status_begin(&board->status);
    event(board, BOOT, (uint8_t)port->cause, 0, board->now);
    if (port->cause == SC_WATCHDOG) sc_stop(board, SC_STOP_WATCHDOG);
    if (port->cause == SC_BROWNOUT) sc_stop(board, SC_STOP_BROWNOUT);
}

/* False where more are waiting. */
static bool take_samples(struct sc_board *board) {
    uint16_t pins;
    uint32_t at;
    for (uint8_t most = 255; most > 0; most--) { /* a storm of edges must not keep the loop from the rest */
        enum sc_sampled sampled = board->port->sample(board->port->context, &pins, &at);
        if (sampled == SC_NO_SAMPLE) return true;
        if (sampled == SC_SAMPLE) sc_inputs_sample(&board->inputs, pins, at);
        else event(board, LOST, 0, 0, board->now);
    }
    return false;
}

static void look(struct sc_board *board, bool caught_up) {
    uint32_t now = (uint32_t)board->now;
    if (now - board->settled < SC_LOOK_US) return;
    board->settled = now;
    if (caught_up) sc_inputs_settle(&board->inputs, now);
    sc_relays_compare(&board->relays, board->inputs.live, now);
    if (board->relays.locked && board->relays.stop == SC_STOP_NONE && now - board->heard >= SC_SILENT_US) {
        sc_stop(board, SC_STOP_SILENT);
        sc_status_error(&board->status, SC_TIME_OUT);
    }
}

static void write_event(struct sc_board *board) {
    const struct sc_event *event = &board->events[board->events_first];
    struct sc_text text;
    sc_text_on(&text, board->out + SC_HEAD, sizeof board->out - SC_HEAD - SC_TAIL);
    sc_put_number(&text, event->number);
    sc_put(&text, ',');
    sc_put_time(&text, event->at);
    sc_put(&text, ',');
    sc_put_flash(&text, KINDS[event->kind]);
    if (event->kind == STOP) {
        sc_put(&text, ',');
        sc_put_stop(&text, (enum sc_stop)event->what);
    } else if (event->kind != LOST) {
        sc_put(&text, ',');
        sc_put_number(&text, event->what);
        if (event->kind != BOOT) {
            sc_put(&text, ',');
            sc_put_number(&text, event->state);
        }
    }
    board->out_length = sc_frame_seal(board->out, '!', (uint8_t)event->number, text.used);
    board->out_sent = 0;
    board->events_first = (uint8_t)((board->events_first + 1) % SC_EVENTS);
    board->events_waiting--;
    if (board->owed > 0) board->owed--;
}

/* True once all of it has been handed over. */
static bool hand_over(const struct sc_board *board, const char *from, uint8_t length, uint8_t *sent) {
    if (*sent < length)
        *sent = (uint8_t)(*sent + board->port->send(board->port->context, from + *sent, (uint8_t)(length - *sent)));
    return *sent == length;
}

static bool command_next(const struct sc_board *board) {
    return board->waiting && !(board->owed > 0 && board->events_waiting > 0);
}

static void send(struct sc_board *board) {
    for (;;) {
        if (!hand_over(board, board->reply, board->reply_length, &board->reply_sent)) return;
        if (!hand_over(board, board->out, board->out_length, &board->out_sent)) return;
        if (board->events_waiting == 0 || command_next(board)) return;
        write_event(board);
    }
}

static void line_ended(struct sc_board *board) {
    uint8_t used = board->line_used;
    board->line_used = 0;
    if (used <= SC_LINE_MAX && sc_frame_open(board->line, used, &board->command) && board->command.kind == '>') {
        board->heard = (uint32_t)board->now;
        board->waiting = true;
    } else {
        board->refused++;
        sc_status_error(&board->status, used > SC_LINE_MAX ? SC_OVERRUN : SC_COMMUNICATION);
    }
}

static void receive(struct sc_board *board) {
    uint8_t byte;
    while (!board->waiting && board->port->receive(board->port->context, &byte)) {
        if (byte == '\n') line_ended(board);
        else if (board->line_used < SC_LINE_MAX) board->line[board->line_used++] = (char)byte;
        else board->line_used = SC_LINE_MAX + 1;
    }
}

static bool answered_already(const struct sc_board *board) {
    return board->answered && board->answered_tag == board->command.tag && board->answered_crc == board->command.crc &&
           (uint32_t)board->now - board->answered_at < 1000000u;
}

static void obey(struct sc_board *board) {
    if (!command_next(board)) return;
    if (board->reply_sent < board->reply_length || board->out_sent < board->out_length) return;
    if (!answered_already(board)) {
        sc_carry_out(board);
        board->answered = true;
        board->answered_tag = board->command.tag;
        board->answered_crc = board->command.crc;
        board->answered_at = (uint32_t)board->now;
    }
    board->waiting = false;
    board->owed = SC_OWED;
    board->reply_sent = 0;
}

/* A clock that went back would be a broken one: it stands still then, and the port's watchdog is not fed. */
static void read_clock(struct sc_board *board) {
    uint64_t now = board->port->now(board->port->context);
    if (now > board->now) board->now = now;
    for (; (uint32_t)board->now - board->ms_at >= 1000; board->ms_at += 1000) board->ms++;
}

void sc_turn(struct sc_board *board) {
    read_clock(board);
    look(board, take_samples(board));
    receive(board);
    send(board);
    obey(board);
    send(board);
}
