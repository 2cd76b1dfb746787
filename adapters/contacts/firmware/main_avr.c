/* SPDX-License-Identifier: MIT
 *
 * A box of twelve inputs on an ATmega328P. A contact closes its pin to ground; a closed contact is 1.
 *
 *   input    1    2    3    4    5    6    7    8    9    10   11   12
 *   pin      PD2  PD3  PD4  PD5  PD6  PD7  PC0  PC1  PC2  PC3  PC4  PC5
 *
 * Lines leave at PD1 (TXD), 8N1. A light at PB5 changes every half second while the box lives. Nothing is received.
 * F_CPU and BAUD come from the command that builds it: README.md, "The box".
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/wdt.h>
#include <util/atomic.h>
#include <util/setbaud.h>

#include "line.h"

#if BAUD < 57600
#error "Below 57600 baud a burst of all inputs at once holds up the line with all levels for longer than a second."
#endif
#if F_CPU % 64000 != 0 || F_CPU / 64000 > 256
#error "The timer of one millisecond takes a whole number of thousands of 64 clocks, 256 at most."
#endif

enum {
  INPUTS_OF_D = 0xFC, /* PD2 to PD7 */
  INPUTS_OF_C = 0x3F, /* PC0 to PC5 */
  LIGHT = 5,          /* of port B */
  LIGHT_MS = 512,     /* a bit of the clock */
  /* For the pull-ups to lift what hangs at the inputs. Chosen: 4.7 kilohms and 100 nF take half a millisecond. */
  SETTLE_MS = 20,
};

static volatile uint32_t clock_ms;

ISR(TIMER0_COMPA_vect) {
  clock_ms++;
}

/* A watchdog that has bitten stays on, at its shortest time, until it is turned off: before anything else. */
__attribute__((naked, used, section(".init3"))) static void watchdog_off(void) {
  MCUSR = 0;
  wdt_disable();
}

static uint32_t now(void) {
  uint32_t ms;
  ATOMIC_BLOCK(ATOMIC_RESTORESTATE) {
    ms = clock_ms;
  }
  return ms;
}

static uint16_t closed(void) {
  uint8_t low_d = (uint8_t)(~PIND & INPUTS_OF_D);
  uint8_t low_c = (uint8_t)(~PINC & INPUTS_OF_C);
  return (uint16_t)((low_d >> 2) | (uint16_t)(low_c << 6));
}

static void begin(void) {
  PORTD = INPUTS_OF_D; /* the pull-ups */
  PORTC = INPUTS_OF_C;
  DDRB = _BV(LIGHT);
  UCSR0A = USE_2X ? _BV(U2X0) : 0;
  UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
  UBRR0 = UBRR_VALUE;
  UCSR0B = _BV(TXEN0);
  TCCR0A = _BV(WGM01);
  OCR0A = F_CPU / 64000 - 1; /* clock / 64, cleared on compare: once a millisecond */
  TCCR0B = _BV(CS01) | _BV(CS00);
  TIMSK0 = _BV(OCIE0A);
  wdt_enable(WDTO_250MS);
  sei();
}

/* One byte where the transmitter has room for it; never waits. */
static void send(struct lines *lines) {
  static char text[LINE_ROOM];
  static uint8_t length, sent;
  if (sent == length) {
    length = lines_next(lines, text);
    sent = 0;
  }
  if (sent < length && (UCSR0A & _BV(UDRE0))) UDR0 = (uint8_t)text[sent++];
}

int main(void) {
  static struct lines lines;
  begin();
  while (now() < SETTLE_MS) {
  }
  uint32_t scanned_ms = now();
  lines_begin(&lines, closed(), scanned_ms);
  for (;;) {
    uint32_t ms = now();
    if (ms != scanned_ms) {
      /* Only a clock that goes on keeps the watchdog quiet. */
      wdt_reset();
      scanned_ms = ms;
      lines_scan(&lines, closed(), ms);
      PORTB = ms & LIGHT_MS ? _BV(LIGHT) : 0;
    }
    send(&lines);
  }
}
