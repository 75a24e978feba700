#include "board.h"
#include "parse.h"
#include "text.h"

enum command {
    DO_CLS, DO_ESE, DO_ESE_Q, DO_ESR_Q, DO_IDN_Q, DO_OPC, DO_OPC_Q, DO_RST, DO_SRE, DO_SRE_Q, DO_STB_Q, DO_TST_Q, DO_WAI,
    DO_ERROR_Q, DO_ERROR_NEXT_Q, DO_ERROR_COUNT_Q, DO_VERSION_Q, DO_PROTOCOL_Q, DO_TIME_Q, DO_SERIAL, DO_SERIAL_Q, DO_CHANNELS_Q,
    DO_STATE_Q, DO_CLOSE, DO_CLOSE_Q, DO_OPEN, DO_OPEN_ALL, DO_REST_Q, DO_OUTPUT, DO_OUTPUT_Q, DO_STOP, DO_STOP_CLEAR, DO_STOP_Q,
    DO_MINIMUM, DO_MINIMUM_Q, DO_EXCLUSIVE, DO_EXCLUSIVE_Q, DO_READBACK, DO_READBACK_Q, DO_LOCK, DO_LOCK_Q,
    DO_INPUT_Q, DO_BOUNDS_Q, DO_VOLTAGE_Q, DO_COMMANDS
};

static const char HEADERS[DO_COMMANDS][21] SC_FLASH = {
    "*CLS", "*ESE", "*ESE?", "*ESR?", "*IDN?", "*OPC", "*OPC?", "*RST", "*SRE", "*SRE?", "*STB?", "*TST?", "*WAI",
    "SYSTem:ERRor?", "SYSTem:ERRor:NEXT?", "SYSTem:ERRor:COUNt?", "SYSTem:VERSion?", "SYSTem:PROTocol?",
    "SYSTem:TIME?", "SYSTem:SERial", "SYSTem:SERial?", "SYSTem:CHANnels?",
    "STATe?", "ROUTe:CLOSe", "ROUTe:CLOSe?", "ROUTe:OPEN", "ROUTe:OPEN:ALL", "ROUTe:REST?", "OUTPut", "OUTPut?",
    "STOP", "STOP:CLEar", "STOP?",
    "CONFigure:MINimum", "CONFigure:MINimum?", "CONFigure:EXCLusive", "CONFigure:EXCLusive?",
    "CONFigure:READback", "CONFigure:READback?", "CONFigure:LOCK", "CONFigure:LOCK?",
    "INPut?", "INPut:BOUNds?", "MEASure:VOLTage?",
};

static const char MAKER[] SC_FLASH = "Stagecall,";
static const char STANDARD[] SC_FLASH = "1999.0";
static const char ON[] SC_FLASH = "ON";
static const char OFF[] SC_FLASH = "OFF";
static const char STOP_WORD[] SC_FLASH = "STOP";
static const char REPORT[] SC_FLASH = "REPort";
static const char REPORT_SHORT[] SC_FLASH = "REP";
static const char NONE[] SC_FLASH = "NONE";
static const char IS_STOPPED[] SC_FLASH = ";stopped";
static const char NOT_LOCKED[] SC_FLASH = ";not configured";
static const char IS_LOCKED[] SC_FLASH = ";configuration is locked";
static const char MINIMUM_OPEN[] SC_FLASH = ";minimum open,";
static const char EXCLUSIVE_PAIR[] SC_FLASH = ";exclusive,";

static void put_mask(struct sc_text *text, uint16_t mask) {
    sc_put(text, '#');
    sc_put(text, 'H');
    sc_put_hex(text, mask, 4);
}

static void put_versions(struct sc_text *text, const struct sc_board *board) {
    sc_put_flash(text, MAKER);
    sc_put_text(text, board->port->model);
    sc_put(text, ',');
    sc_put_number(text, board->port->serial(board->port->context));
    sc_put(text, ',');
    sc_put_text(text, SC_CODE_VERSION);
}

/* Events that wait to be sent are still to come: neither their stamps nor their numbers count as past. */
static void put_state(struct sc_text *text, const struct sc_board *board) {
    uint64_t settled = board->now - sc_inputs_unsettled(&board->inputs, (uint32_t)board->now);
    uint32_t next = board->events_waiting > 0 ? board->events[board->events_first].number : board->next_event;
    for (uint8_t i = 0; i < board->events_waiting; i++) {
        uint64_t at = board->events[(board->events_first + i) % SC_EVENTS].at;
        if (at < settled) settled = at;
    }
    sc_put_time(text, settled - 1);
    sc_put(text, ',');
    put_mask(text, board->relays.closed);
    sc_put(text, ',');
    put_mask(text, board->inputs.live);
    sc_put(text, ',');
    sc_put(text, board->relays.master ? '1' : '0');
    sc_put(text, ',');
    sc_put(text, board->relays.locked ? '1' : '0');
    sc_put(text, ',');
    sc_put_stop(text, board->relays.stop);
    sc_put(text, ',');
    sc_put_number(text, next);
    sc_put(text, ',');
    sc_put_number(text, board->refused);
}

static void put_bounds(struct sc_text *text) {
    static const uint16_t bounds[6] = {
        0, SC_ON_LATEST_US, SC_OFF_EARLIEST_US, SC_OFF_LATEST_US, SC_BLIND_ON_US, SC_BLIND_OFF_US};
    for (uint8_t i = 0; i < 6; i++) {
        if (i > 0) sc_put(text, ',');
        sc_put_number(text, bounds[i]);
    }
}

static void put_channel(struct sc_text *text, const struct sc_board *board, enum command command, uint8_t i) {
    const struct sc_relays *relays = &board->relays;
    switch (command) {
    case DO_CLOSE_Q: sc_put(text, relays->closed >> i & 1 ? '1' : '0'); break;
    case DO_REST_Q: sc_put_number(text, sc_relays_rest(relays, i, board->ms)); break;
    case DO_MINIMUM_Q: sc_put_number(text, relays->minimum[i]); break;
    case DO_EXCLUSIVE_Q: put_mask(text, relays->exclusive[i]); break;
    case DO_READBACK_Q:
        sc_put_number(text, relays->readback[i]);
        sc_put(text, ',');
        if (relays->readback[i] == 0) sc_put_flash(text, NONE);
        else sc_put_flash(text, relays->readback_stops >> i & 1 ? STOP_WORD : REPORT_SHORT);
        break;
    case DO_INPUT_Q: sc_put(text, board->inputs.live >> i & 1 ? '1' : '0'); break;
    default: { /* DO_VOLTAGE_Q */
        uint16_t mv = board->port->millivolts(board->port->context, i);
        sc_put_number(text, mv / 1000u);
        sc_put(text, '.');
        for (uint16_t unit = 100; unit > 0; unit /= 10) sc_put(text, (char)('0' + mv / unit % 10));
    }
    }
}

static void put_channels(struct sc_text *text, const struct sc_board *board, enum command command,
                         struct sc_parse *parse, uint8_t count) {
    bool more = false;
    uint16_t set;
    if (count == 0) {
        parse->error = SC_NO_HARDWARE;
        return;
    }
    set = sc_channels(parse, true, count);
    sc_no_more(parse);
    if (parse->error != SC_NO_ERROR) return;
    for (uint8_t i = 0; set; i++, set >>= 1) {
        if (!(set & 1)) continue;
        if (more) sc_put(text, ',');
        more = true;
        put_channel(text, board, command, i);
    }
}

/* Room for "ER", the time and a refusal's detail. */
struct detail {
    const char *words; /* in flash; null: none */
    bool counts;
    uint8_t channel;
    uint32_t ms;
};

static void move(struct sc_board *board, struct sc_parse *parse, uint16_t closed, bool master, struct detail *detail) {
    uint32_t now_ms = board->ms;
    uint8_t which;
    enum sc_refusal refusal;
    sc_no_more(parse);
    if (parse->error != SC_NO_ERROR) return;
    refusal = sc_relays_set(&board->relays, closed, master, now_ms, &which);
    if (refusal == SC_ALLOWED) return;
    parse->error = refusal == SC_STOPPED || refusal == SC_UNLOCKED ? SC_PROTECTED : SC_CONFLICT;
    detail->words = refusal == SC_STOPPED    ? IS_STOPPED
                    : refusal == SC_UNLOCKED ? NOT_LOCKED
                    : refusal == SC_MINIMUM  ? MINIMUM_OPEN
                                             : EXCLUSIVE_PAIR;
    detail->counts = parse->error == SC_CONFLICT;
    detail->channel = (uint8_t)(which + 1);
    detail->ms = refusal == SC_MINIMUM ? sc_relays_rest(&board->relays, which, now_ms) : 0;
}

static void set_minimum(struct sc_relays *relays, struct sc_parse *parse) {
    uint16_t set = sc_channels(parse, true, relays->count);
    uint32_t minimum = sc_number(parse, false, 3600000);
    sc_no_more(parse);
    for (uint8_t i = 0; parse->error == SC_NO_ERROR && set; i++, set >>= 1)
        if (set & 1) relays->minimum[i] = minimum;
}

static void set_exclusive(struct sc_relays *relays, struct sc_parse *parse) {
    uint16_t one = sc_channels(parse, true, relays->count);
    uint16_t other = sc_channels(parse, false, relays->count);
    sc_no_more(parse);
    if (parse->error == SC_NO_ERROR && (one & other)) parse->error = SC_ILLEGAL;
    for (uint8_t i = 0; parse->error == SC_NO_ERROR && i < relays->count; i++) {
        if (one >> i & 1) relays->exclusive[i] |= other;
        if (other >> i & 1) relays->exclusive[i] |= one;
    }
}

static void set_readback(struct sc_board *board, struct sc_parse *parse) {
    struct sc_relays *relays = &board->relays;
    uint8_t relay = sc_channel(parse, true, relays->count);
    uint8_t input = sc_channel(parse, false, board->inputs.count);
    bool stops = sc_word(parse, false, STOP_WORD);
    if (!stops && parse->error == SC_NO_ERROR && !sc_word(parse, false, REPORT) && parse->error == SC_NO_ERROR)
        parse->error = SC_ILLEGAL;
    sc_no_more(parse);
    if (parse->error != SC_NO_ERROR) return;
    sc_relays_read_back(relays, relay - 1, input);
    if (stops) relays->readback_stops |= (uint16_t)(1u << (relay - 1));
    else relays->readback_stops &= (uint16_t)~(1u << (relay - 1));
}

static void set_serial(struct sc_board *board, struct sc_parse *parse) {
    uint32_t serial = sc_number(parse, true, 999999999u);
    sc_no_more(parse);
    if (parse->error == SC_NO_ERROR) board->port->keep_serial(board->port->context, serial);
}

static void configure(struct sc_board *board, enum command command, struct sc_parse *parse, struct detail *detail) {
    if (board->relays.locked) {
        parse->error = SC_PROTECTED;
        detail->words = IS_LOCKED;
    } else if (command == DO_MINIMUM) {
        set_minimum(&board->relays, parse);
    } else if (command == DO_EXCLUSIVE) {
        set_exclusive(&board->relays, parse);
    } else if (command == DO_READBACK) {
        set_readback(board, parse);
    } else if (command == DO_SERIAL) {
        set_serial(board, parse);
    } else {
        sc_no_more(parse);
        board->relays.locked = parse->error == SC_NO_ERROR;
    }
}

static void set_output(struct sc_board *board, struct sc_parse *parse, struct detail *detail) {
    bool on = sc_word(parse, true, ON);
    if (!on && parse->error == SC_NO_ERROR && !sc_word(parse, true, OFF)) on = sc_number(parse, true, 1) == 1;
    move(board, parse, board->relays.closed, on, detail);
}

/* Commands that take no parameter. */
static void plain(struct sc_board *board, enum command command, struct sc_text *text) {
    struct sc_status *status = &board->status;
    switch (command) {
    case DO_CLS: sc_status_clear(status); break;
    case DO_ESE_Q: sc_put_number(text, status->event_enable); break;
    case DO_ESR_Q:
        sc_put_number(text, status->events);
        status->events = 0;
        break;
    case DO_IDN_Q: put_versions(text, board); break;
    case DO_OPC: status->events |= SC_OPC; break;
    case DO_OPC_Q: sc_put(text, '1'); break;
    case DO_RST: sc_relays_reset(&board->relays, board->ms); break;
    case DO_SRE_Q: sc_put_number(text, status->request_enable); break;
    case DO_STB_Q: sc_put_number(text, sc_status_byte(status)); break;
    case DO_TST_Q: sc_put_number(text, board->port->self_test(board->port->context)); break;
    case DO_ERROR_Q:
    case DO_ERROR_NEXT_Q:
        sc_put_error(text, sc_status_next(status));
        sc_put(text, '"');
        break;
    case DO_ERROR_COUNT_Q: sc_put_number(text, status->waiting); break;
    case DO_VERSION_Q: sc_put_flash(text, STANDARD); break;
    case DO_PROTOCOL_Q: sc_put_number(text, SC_WIRE_VERSION); break;
    case DO_TIME_Q: sc_put_time(text, board->now); break;
    case DO_SERIAL_Q: sc_put_number(text, board->port->serial(board->port->context)); break;
    case DO_CHANNELS_Q:
        sc_put_number(text, board->port->relays);
        sc_put(text, ',');
        sc_put_number(text, board->port->inputs);
        sc_put(text, ',');
        sc_put_number(text, board->port->analogs);
        break;
    case DO_STATE_Q: put_state(text, board); break;
    case DO_OUTPUT_Q: sc_put(text, board->relays.master ? '1' : '0'); break;
    case DO_STOP: sc_stop(board, SC_STOP_COMMAND); break;
    case DO_STOP_CLEAR: board->relays.stop = SC_STOP_NONE; break;
    case DO_STOP_Q: sc_put_stop(text, board->relays.stop); break;
    case DO_LOCK_Q: sc_put(text, board->relays.locked ? '1' : '0'); break;
    case DO_BOUNDS_Q: put_bounds(text); break;
    default: break; /* *WAI: every command has ended when its reply comes */
    }
}

static void run(struct sc_board *board, enum command command, struct sc_parse *parse, struct sc_text *text,
                struct detail *detail) {
    struct sc_relays *relays = &board->relays;
    uint8_t byte;
    switch (command) {
    case DO_ESE:
    case DO_SRE:
        byte = (uint8_t)sc_number(parse, true, 255);
        sc_no_more(parse);
        if (parse->error != SC_NO_ERROR) break;
        if (command == DO_ESE) board->status.event_enable = byte;
        else board->status.request_enable = byte & (uint8_t)~SC_STB_REQUEST;
        break;
    case DO_CLOSE: move(board, parse, relays->closed | sc_channels(parse, true, relays->count), relays->master, detail); break;
    case DO_OPEN:
        move(board, parse, relays->closed & (uint16_t)~sc_channels(parse, true, relays->count), relays->master, detail);
        break;
    case DO_OPEN_ALL: move(board, parse, 0, relays->master, detail); break;
    case DO_OUTPUT: set_output(board, parse, detail); break;
    case DO_MINIMUM:
    case DO_EXCLUSIVE:
    case DO_READBACK:
    case DO_SERIAL:
    case DO_LOCK: configure(board, command, parse, detail); break;
    case DO_CLOSE_Q:
    case DO_REST_Q:
    case DO_MINIMUM_Q:
    case DO_EXCLUSIVE_Q:
    case DO_READBACK_Q: put_channels(text, board, command, parse, relays->count); break;
    case DO_INPUT_Q: put_channels(text, board, command, parse, board->inputs.count); break;
    case DO_VOLTAGE_Q: put_channels(text, board, command, parse, board->port->analogs); break;
    default:
        sc_no_more(parse);
        if (parse->error == SC_NO_ERROR) plain(board, command, text);
    }
}

static void begin_reply(struct sc_board *board, struct sc_text *text, char first, char second) {
    sc_text_on(text, board->reply + SC_HEAD, SC_REPLY_MAX);
    sc_put(text, first);
    sc_put(text, second);
    sc_put(text, ' ');
    sc_put_time(text, board->port->now(board->port->context));
    sc_put(text, ' ');
}

void sc_carry_out(struct sc_board *board) {
    struct sc_parse parse = {board->command.body, board->command.body + board->command.length, SC_NO_ERROR};
    struct detail detail = {0, false, 0, 0};
    struct sc_text text, empty;
    uint8_t command = 0;
    while (command < DO_COMMANDS && !sc_header(&parse, HEADERS[command])) command++;
    begin_reply(board, &text, 'O', 'K');
    empty = text;
    if (command == DO_COMMANDS) parse.error = SC_UNDEFINED;
    else run(board, (enum command)command, &parse, &text, &detail);
    if (parse.error != SC_NO_ERROR) {
        begin_reply(board, &text, 'E', 'R');
        sc_put_error(&text, parse.error);
        if (detail.words) sc_put_flash(&text, detail.words);
        if (detail.counts) {
            sc_put_number(&text, detail.channel);
            sc_put(&text, ',');
            sc_put_number(&text, detail.ms);
        }
        sc_put(&text, '"');
        sc_status_error(&board->status, parse.error);
    } else if (text.used == empty.used) {
        begin_reply(board, &text, 'O', 'K'); /* the time after the relays were driven */
        text.used--;
    }
    board->reply_length = sc_frame_seal(board->reply, '<', board->command.tag, text.used);
}
