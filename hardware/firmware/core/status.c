#include "status.h"

#include "platform.h"

void sc_status_begin(struct sc_status *status) {
    status->events = SC_POWER_ON;
    status->event_enable = status->request_enable = status->waiting = 0;
}

void sc_status_clear(struct sc_status *status) { status->events = status->waiting = 0; }

void sc_status_error(struct sc_status *status, int16_t error) {
    if (error > -200) status->events |= SC_COMMAND;
    else if (error > -300) status->events |= SC_EXECUTION;
    else status->events |= SC_DEVICE;
    if (status->waiting == SC_ERRORS) status->errors[SC_ERRORS - 1] = SC_OVERFLOW;
    else status->errors[status->waiting++] = error;
}

int16_t sc_status_next(struct sc_status *status) {
    int16_t error = status->errors[0];
    if (status->waiting == 0) return SC_NO_ERROR;
    status->waiting--;
    for (uint8_t i = 0; i < status->waiting; i++) status->errors[i] = status->errors[i + 1];
    return error;
}

uint8_t sc_status_byte(const struct sc_status *status) {
    uint8_t byte = 0;
    if (status->waiting > 0) byte |= SC_STB_ERRORS;
    if (status->events & status->event_enable) byte |= SC_STB_EVENT;
    if (byte & status->request_enable) byte |= SC_STB_REQUEST;
    return byte;
}

struct wording {
    int16_t error;
    char words[24];
};

static const struct wording WORDINGS[] SC_FLASH = {
    {SC_NO_ERROR, "No error"},
    {SC_SYNTAX, "Syntax error"},
    {SC_DATA_TYPE, "Data type error"},
    {SC_NOT_ALLOWED, "Parameter not allowed"},
    {SC_MISSING, "Missing parameter"},
    {SC_UNDEFINED, "Undefined header"},
    {SC_EXPRESSION, "Invalid expression"},
    {SC_PROTECTED, "Command protected"},
    {SC_CONFLICT, "Settings conflict"},
    {SC_RANGE, "Data out of range"},
    {SC_ILLEGAL, "Illegal parameter value"},
    {SC_HARDWARE, "Hardware error"},
    {SC_NO_HARDWARE, "Hardware missing"},
    {SC_OVERFLOW, "Queue overflow"},
    {SC_COMMUNICATION, "Communication error"},
    {SC_OVERRUN, "Input buffer overrun"},
    {SC_TIME_OUT, "Time out error"},
};

void sc_put_error(struct sc_text *text, int16_t error) {
    sc_put_signed(text, error);
    sc_put(text, ',');
    sc_put(text, '"');
    for (uint8_t i = 0; i < sizeof WORDINGS / sizeof *WORDINGS; i++)
        if (SC_INT(&WORDINGS[i].error) == error) sc_put_flash(text, WORDINGS[i].words);
}
