#include "parse.h"

#include "platform.h"
#include "status.h"

static char capital(char c) { return (char)(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c); }
static bool is_small(char c) { return c >= 'a' && c <= 'z'; }
static bool is_word(char c) { return (c >= '0' && c <= '9') || (capital(c) >= 'A' && capital(c) <= 'Z'); }

static void fail(struct sc_parse *parse, int16_t error) {
    if (parse->error == SC_NO_ERROR) parse->error = error;
}

/* Where in *at..end* the pattern ends, or null. Each node is in its short or its long form and nothing between. */
static const char *match(const char *at, const char *end, const char *pattern) {
    for (;;) {
        char wanted = (char)SC_BYTE(pattern);
        if (is_small(wanted)) { /* here the short form of a node ends */
            bool is_long = at < end && is_word(*at);
            for (; is_small(wanted = (char)SC_BYTE(pattern)); pattern++) {
                if (!is_long) continue;
                if (at == end || capital(*at++) != capital(wanted)) return 0;
            }
            if (at < end && is_word(*at)) return 0;
        } else if (wanted == 0) {
            return at;
        } else {
            if (at == end || capital(*at++) != wanted) return 0;
            pattern++;
        }
    }
}

bool sc_header(struct sc_parse *parse, const char *pattern) {
    const char *after = match(parse->at, parse->end, pattern);
    if (!after || (after < parse->end && *after != ' ')) return false;
    while (after < parse->end && *after == ' ') after++;
    parse->at = after;
    return true;
}

static bool take(struct sc_parse *parse, char c) {
    if (parse->at == parse->end || *parse->at != c) return false;
    parse->at++;
    return true;
}

static bool start(struct sc_parse *parse, bool first) {
    if (parse->error == SC_NO_ERROR) {
        if (!first && parse->at < parse->end && !take(parse, ',')) fail(parse, SC_SYNTAX);
        else if (parse->at == parse->end) fail(parse, SC_MISSING);
    }
    return parse->error == SC_NO_ERROR;
}

/* Decimal digits only; more than fit read as the largest number. */
static bool digits(struct sc_parse *parse, uint32_t *value) {
    const char *from = parse->at;
    *value = 0;
    for (; parse->at < parse->end && *parse->at >= '0' && *parse->at <= '9'; parse->at++)
        *value = *value > 99999999u ? UINT32_MAX / 10 : *value * 10 + (uint32_t)(*parse->at - '0');
    return parse->at > from;
}

uint32_t sc_number(struct sc_parse *parse, bool first, uint32_t most) {
    uint32_t value;
    if (!start(parse, first)) return 0;
    if (!digits(parse, &value)) fail(parse, SC_DATA_TYPE);
    else if (value > most) fail(parse, SC_RANGE);
    return parse->error == SC_NO_ERROR ? value : 0;
}

uint16_t sc_channels(struct sc_parse *parse, bool first, uint8_t count) {
    uint16_t set = 0;
    if (!start(parse, first)) return 0;
    if (!take(parse, '(') || !take(parse, '@')) {
        fail(parse, SC_DATA_TYPE);
        return 0;
    }
    do {
        uint32_t low, high;
        if (!digits(parse, &low)) fail(parse, SC_EXPRESSION);
        high = low;
        if (parse->error == SC_NO_ERROR && take(parse, ':') && !digits(parse, &high)) fail(parse, SC_EXPRESSION);
        if (parse->error != SC_NO_ERROR) return 0;
        if (low == 0 || high > count) fail(parse, SC_RANGE);
        else if (low > high) fail(parse, SC_ILLEGAL);
        else for (; low <= high; low++) set |= (uint16_t)(1u << (low - 1));
    } while (take(parse, ','));
    if (!take(parse, ')')) fail(parse, SC_EXPRESSION);
    return parse->error == SC_NO_ERROR ? set : 0;
}

uint8_t sc_channel(struct sc_parse *parse, bool first, uint8_t count) {
    uint16_t set = sc_channels(parse, first, count);
    uint8_t channel = 1;
    if (set == 0) return 0;
    for (; !(set & 1); set >>= 1) channel++;
    if (set > 1) fail(parse, SC_ILLEGAL);
    return set > 1 ? 0 : channel;
}

bool sc_word(struct sc_parse *parse, bool first, const char *pattern) {
    struct sc_parse before = *parse;
    const char *after;
    if (!start(parse, first)) return false;
    after = match(parse->at, parse->end, pattern);
    if (!after || (after < parse->end && *after != ',')) {
        *parse = before;
        return false;
    }
    parse->at = after;
    return true;
}

void sc_no_more(struct sc_parse *parse) {
    if (parse->at < parse->end) fail(parse, SC_NOT_ALLOWED);
}
